//! What a researcher asks of a report: who was followed, where the reporting statements are answered, what each rule decides.

use super::block::{
    Block, Cell, Row, cell, heading, heads, numbers, paragraph, row, section, table, words,
};
use crate::page::{COHORT_WORDS, IDLE_RULES, SENSITIVITY_WORDS, STATEMENT_WORDS};
use crate::wording;
use outcomes::report::words::value_with_counts;
use outcomes::report::{ChecklistItem, CohortTable, Report, SensitiveFigure, Sensitivity};

/// Adds the section; nothing in a copy that has neither of its parts.
pub(super) fn section_of(report: &Report, blocks: &mut Vec<Block>) {
    let has_cohort = !report.cohort_table.groups.is_empty();
    if !has_cohort && report.checklist.is_empty() {
        return;
    }
    blocks.push(section("For researchers"));
    if has_cohort {
        blocks.push(heading("Who was followed"));
        blocks.push(paragraph(COHORT_WORDS));
        blocks.push(cohort(&report.cohort_table));
    }
    if !report.checklist.is_empty() {
        blocks.push(heading("Reporting statements"));
        blocks.push(paragraph(STATEMENT_WORDS));
        blocks.push(checklist(&report.checklist));
    }
}

fn cohort(described: &CohortTable) -> Block {
    let mut columns = vec![words("Characteristic", 3)];
    columns.extend(described.columns.iter().map(|year| numbers(year, 2)));
    let mut rows = Vec::new();
    for group in &described.groups {
        rows.push(heads(format!("{} ({})", group.title, group.of)));
        rows.extend(group.rows.iter().map(|value| {
            let found = value.cells.iter().map(|found| cell(&found.words));
            row(std::iter::once(cell(&value.label)).chain(found).collect())
        }));
    }
    table(columns, rows)
}

fn checklist(items: &[ChecklistItem]) -> Block {
    let mut rows = Vec::new();
    for of_one in items.chunk_by(|left, right| left.statement == right.statement) {
        rows.extend(of_one.first().map(|first| heads(&first.statement)));
        rows.extend(of_one.iter().map(item));
    }
    let columns = vec![words("Item", 0), words("Asks for", 4), words("Where", 5)];
    table(columns, rows)
}

fn item(item: &ChecklistItem) -> Row {
    let note = if item.is_for_people { "for people" } else { "" };
    row(vec![
        cell(&item.item),
        cell(&item.asks),
        Cell {
            words: item.answer.clone(),
            note: note.to_owned(),
            is_strong: false,
        },
    ])
}

/// What the headline figures would be if one rule were another: rules that change a figure in a table, the others in a list.
pub(super) fn sensitivity(lines: &[Sensitivity], blocks: &mut Vec<Block>) {
    if lines.is_empty() {
        return;
    }
    let (telling, idle): (Vec<&Sensitivity>, Vec<&Sensitivity>) =
        lines.iter().partition(|line| !line.changed.is_empty());
    blocks.push(heading("How much each rule decides"));
    blocks.push(paragraph(SENSITIVITY_WORDS));
    let mut rows = Vec::new();
    for line in telling {
        rows.push(heads(format!("{} ({})", change(line), line.words)));
        rows.extend(line.changed.iter().map(figure));
    }
    if !rows.is_empty() {
        let columns = vec![
            words("Headline", 3),
            words("In force", 3),
            words("Under the alternative", 3),
            numbers("Difference", 2),
            words("Cohort", 2),
        ];
        blocks.push(table(columns, rows));
    }
    if !idle.is_empty() {
        blocks.push(paragraph(IDLE_RULES));
        blocks.push(Block::List {
            items: idle.into_iter().map(change).collect(),
        });
    }
}

fn change(line: &Sensitivity) -> String {
    format!("{}: {} → {}", line.rule, line.in_force, line.alternative)
}

fn figure(figure: &SensitiveFigure) -> Row {
    let in_force = &figure.in_force;
    row(vec![
        cell(wording::of_stratum(&in_force.measure, &in_force.stratum)),
        cell(value_with_counts(in_force)),
        cell(value_with_counts(&figure.alternative)),
        cell(wording::difference_under(figure)),
        cell(&in_force.period),
    ])
}
