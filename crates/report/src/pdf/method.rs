//! How the numbers were made, by which rules and settings, in which words: the last sections on paper.

use super::content::{Block, Cell, Row, Table, Term, cell, numbers, row, words};
use crate::page::{FILES_STAY, ROWS_STAY, completeness_share, severity_words};
use crate::wording;
use outcomes::report::{Audience, Provenance, Report, RuleLine, SettingLine};

/// Adds the closing sections.
pub(super) fn sections(report: &Report, blocks: &mut Vec<Block>) {
    let section = |words: &str| Block::Section {
        words: words.to_owned(),
    };
    let heading = |words: &str| Block::Heading {
        words: words.to_owned(),
    };
    let paragraph = |words: &str| Block::Paragraph {
        words: words.to_owned(),
    };
    blocks.push(section("How the numbers were made"));
    if report.audience == Audience::Public {
        blocks.push(paragraph(ROWS_STAY));
    } else {
        blocks.push(heading("From rows to cohorts"));
        blocks.push(Block::Table(flow(report)));
        blocks.push(heading("What became of every row"));
        blocks.push(paragraph(
            "Rows read are rows used plus rows set aside, each with its reason.",
        ));
        blocks.push(Block::Table(accounts(report)));
        blocks.push(heading("What the checks found"));
        if report.findings.is_empty() {
            blocks.push(paragraph("The checks found nothing."));
        } else {
            blocks.push(Block::Table(findings(report)));
        }
        blocks.push(heading("How complete the fields are"));
        blocks.push(Block::Table(completeness(report)));
    }
    blocks.push(section("Rules and settings"));
    blocks.push(heading("The rules that decide the numbers"));
    for rule in &report.rules {
        blocks.push(Block::Subheading {
            words: rule.measure.clone(),
        });
        blocks.push(Block::Terms { terms: facts(rule) });
    }
    blocks.push(heading("Settings in force"));
    blocks.push(Block::Table(settings(&report.settings)));
    blocks.push(section("Words, cautions, provenance"));
    blocks.push(heading("Words used"));
    let term = |(word, meaning): &(String, String)| Term {
        word: word.clone(),
        meaning: meaning.clone(),
    };
    blocks.push(Block::Terms {
        terms: report.glossary.iter().map(term).collect(),
    });
    blocks.push(heading("Cautions"));
    blocks.push(Block::List {
        items: report.cautions.clone(),
    });
    blocks.push(heading("What made this report"));
    let program = &report.provenance.program;
    if report.provenance.inputs.is_empty() {
        blocks.push(paragraph(&format!("Made by {program}. {FILES_STAY}")));
        return;
    }
    blocks.push(paragraph(&format!(
        "Made by {program} from these files. The same files and settings give the same report, byte for byte."
    )));
    blocks.push(Block::Table(provenance(&report.provenance)));
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

fn facts(rule: &RuleLine) -> Vec<Term> {
    [
        ("Unit", &rule.unit),
        ("Clock starts", &rule.clock),
        ("Enters", &rule.entry),
        ("Event", &rule.event),
        ("Competing", &rule.competing),
        ("Censored", &rule.censoring),
        ("Same day", &rule.same_day),
        ("Outcome known", &rule.known),
    ]
    .map(|(word, meaning)| Term {
        word: word.to_owned(),
        meaning: meaning.clone(),
    })
    .into()
}

fn settings(settings: &[SettingLine]) -> Table {
    let line = |setting: &SettingLine| {
        row(vec![
            cell(&setting.name),
            Cell {
                words: setting.value.clone(),
                note: setting
                    .default
                    .as_ref()
                    .map_or_else(String::new, |default| format!("changed; default {default}")),
                is_strong: setting.default.is_some(),
            },
            cell(&setting.words),
        ])
    };
    Table {
        columns: vec![
            words("Setting", 3),
            words("Value", 2),
            words("What it decides", 5),
        ],
        rows: settings.iter().map(line).collect(),
    }
}

fn provenance(provenance: &Provenance) -> Table {
    let file = |file: &str, role: &str, size: String, sha256: &str| -> Row {
        row(vec![cell(file), cell(role), cell(size), cell(sha256)])
    };
    let mut rows = vec![
        file(
            &provenance.pipeline.0,
            "pipeline",
            "–".to_owned(),
            &provenance.pipeline.1,
        ),
        file(
            &provenance.layout.0,
            "layout",
            "–".to_owned(),
            &provenance.layout.1,
        ),
    ];
    rows.extend(
        provenance
            .inputs
            .iter()
            .map(|(name, bytes, sha256)| file(name, "export", wording::file_size(*bytes), sha256)),
    );
    Table {
        columns: vec![
            words("File", 3),
            words("Role", 0),
            numbers("Size", 0),
            words("SHA-256", 4),
        ],
        rows,
    }
}
