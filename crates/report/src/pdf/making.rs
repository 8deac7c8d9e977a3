//! From rows to cohorts: flow, row accounts, findings, completeness, and what the public copy hides.

use super::block::{
    Block, Cell, Table, cell, heading, heads, numbers, paragraph, row, section, table, words,
};
use crate::page::{
    BYTES_ADD_UP, DECLARED_COLUMNS, EACH_HIDDEN, ROWS_STAY, completeness_share, hidden_by_reason,
    severity_words,
};
use crate::wording;
use outcomes::report::{Audience, Report};

/// Adds the section.
pub(super) fn section_of(report: &Report, blocks: &mut Vec<Block>) {
    blocks.push(section("How the numbers were made"));
    if report.audience == Audience::Public {
        blocks.push(paragraph(ROWS_STAY));
        return;
    }
    blocks.push(heading("From rows to cohorts"));
    blocks.push(Block::Table(flow(report)));
    blocks.push(heading("What became of every row"));
    blocks.push(paragraph(
        "Rows read are rows used plus rows set aside, each with its reason.",
    ));
    blocks.push(Block::Table(accounts(report)));
    blocks.push(heading("What became of every byte"));
    blocks.push(paragraph(BYTES_ADD_UP));
    blocks.push(Block::Table(bytes(report)));
    if !report.provenance.accepted_columns.is_empty() {
        blocks.push(heading("Columns declared to identify nobody"));
        blocks.push(paragraph(DECLARED_COLUMNS));
        let declared = report.provenance.accepted_columns.iter();
        let rows = declared.map(|(column, reason)| row(vec![cell(column), cell(reason)]));
        let columns = vec![words("Column", 2), words("Reason", 4)];
        blocks.push(table(columns, rows.collect()));
    }
    blocks.push(heading("What the checks found"));
    if report.findings.is_empty() {
        blocks.push(paragraph("The checks found nothing."));
    } else {
        blocks.push(Block::Table(findings(report)));
    }
    blocks.push(heading("How complete the fields are"));
    blocks.push(Block::Table(completeness(report)));
    if !report.suppressions.is_empty() {
        blocks.push(heading("What the public copy hides"));
        blocks.push(paragraph(EACH_HIDDEN));
        let mut rows = Vec::new();
        for hidden in hidden_by_reason(&report.suppressions) {
            rows.push(heads(format!("Why: {}", hidden.reason)));
            let kinds = hidden.kinds.into_iter();
            rows.extend(kinds.map(|(what, names)| row(vec![cell(what), cell(names)])));
        }
        let columns = vec![
            words("What", 1),
            words("Of which measures, or which charts", 5),
        ];
        blocks.push(table(columns, rows));
    }
}

fn flow(report: &Report) -> Table {
    let step = |step: &outcomes::report::FlowStep| {
        let indent = "\u{2003}".repeat(usize::from(step.depth.min(6)));
        row(vec![
            cell(format!("{indent}{}", step.label)),
            cell(step.n.to_string()),
        ])
    };
    Table {
        columns: vec![words("Step", 1), numbers("How many", 0)],
        rows: report.flow.iter().map(step).collect(),
    }
}

fn accounts(report: &Report) -> Table {
    let account = |account: &outcomes::finding::FileAccount| {
        let reasons: Vec<String> = account
            .set_aside
            .iter()
            .map(|(check, n)| format!("{check} {}", wording::whole(*n)))
            .collect();
        row(vec![
            cell(&account.file),
            cell(wording::whole(account.n_read)),
            cell(wording::whole(account.n_used)),
            Cell {
                words: wording::whole(account.n_set_aside()),
                ..Cell::default()
            },
            cell(reasons.join("; ")),
            cell(if account.is_balanced() {
                "yes"
            } else {
                "no: rows are missing"
            }),
        ])
    };
    Table {
        columns: vec![
            words("File", 3),
            numbers("Read", 0),
            numbers("Used", 0),
            numbers("Set aside", 0),
            words("Reasons", 4),
            words("Reconciled", 0),
        ],
        rows: report.accounts.iter().map(account).collect(),
    }
}

fn bytes(report: &Report) -> Table {
    let account = |account: &outcomes::finding::FileAccount| {
        let text = &account.text_bytes;
        let parts = [
            account.bytes,
            text.header,
            text.used,
            text.set_aside,
            text.blank,
            text.total(),
        ];
        let counts = parts.map(|n| cell(wording::whole(n)));
        row([cell(&account.file)].into_iter().chain(counts).collect())
    };
    Table {
        columns: vec![
            words("File", 3),
            numbers("Stored", 0),
            numbers("Header", 0),
            numbers("Rows used", 0),
            numbers("Rows set aside", 0),
            numbers("Blank lines", 0),
            numbers("Text in all", 0),
        ],
        rows: report.accounts.iter().map(account).collect(),
    }
}

fn findings(report: &Report) -> Table {
    let tally = |tally: &outcomes::report::FindingTally| {
        row(vec![
            cell(&tally.check),
            cell(severity_words(&tally.severity)),
            cell(&tally.words),
            cell(tally.n.to_string()),
            cell(tally.examples.join("; ")),
        ])
    };
    Table {
        columns: vec![
            words("Check", 3),
            words("Effect", 2),
            words("What it means", 5),
            numbers("Times", 0),
            words("For example", 3),
        ],
        rows: report.findings.iter().map(tally).collect(),
    }
}

fn completeness(report: &Report) -> Table {
    let field = |field: &outcomes::report::FieldCompleteness| {
        row(vec![
            cell(format!("{}.{}", field.table, field.field)),
            cell(wording::whole(field.n_present)),
            cell(wording::whole(field.n_rows)),
            cell(completeness_share(field.n_present, field.n_rows)),
        ])
    };
    Table {
        columns: vec![
            words("Field", 1),
            numbers("Recorded", 0),
            numbers("Rows", 0),
            numbers("Share", 0),
        ],
        rows: report.completeness.iter().map(field).collect(),
    }
}
