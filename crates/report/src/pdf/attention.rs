//! People who need attention: the first of them on the front, more in a section of their own.

use super::block::{Block, Cell, Table, cell, numbers, paragraph, row, section, words};
use crate::page::{attention_lead, nobody};
use crate::wording;
use outcomes::report::{ActionItem, Report};

/// Lines of the action list on the front pages and in its own section.
const FRONT_LINES: usize = 8;
const SECTION_LINES: usize = 60;

/// What the front pages show of the list: its first lines, and where the others are.
pub(super) fn on_the_front(report: &Report) -> (Option<Table>, String) {
    if report.action_list.is_empty() {
        return (None, String::new());
    }
    (
        Some(action_table(&report.action_list, FRONT_LINES)),
        remaining(report.action_list.len(), FRONT_LINES, "further on"),
    )
}

/// The action list with its section.
pub(super) fn section_of(report: &Report, blocks: &mut Vec<Block>) {
    blocks.push(section("People who need attention"));
    blocks.push(Block::Lead {
        words: attention_lead(report),
    });
    if report.action_list.is_empty() {
        blocks.push(paragraph(nobody(report)));
        return;
    }
    blocks.push(Block::Table(action_table(
        &report.action_list,
        SECTION_LINES,
    )));
    let note = remaining(
        report.action_list.len(),
        SECTION_LINES,
        "in report.html and report.xlsx",
    );
    if !note.is_empty() {
        blocks.push(super::block::note(note));
    }
}

/// How many lines stand elsewhere; empty where none does.
fn remaining(n_lines: usize, n_shown: usize, place: &str) -> String {
    if n_lines > n_shown {
        let more = wording::whole((n_lines - n_shown) as u64);
        format!("Further lines, {place}: {more}.")
    } else {
        String::new()
    }
}

/// The first lines of the list.
fn action_table(items: &[ActionItem], n_shown: usize) -> Table {
    let line = |item: &ActionItem| {
        row(vec![
            Cell {
                words: item.patient.clone(),
                note: if item.is_urgent { "urgent" } else { "" }.to_owned(),
                is_strong: item.is_urgent,
            },
            cell(&item.place),
            Cell {
                words: item.reason.clone(),
                note: item.rule.clone(),
                is_strong: false,
            },
            cell(wording::whole(item.days.unsigned_abs())),
            cell(&item.clears_when),
            cell(&item.trace),
        ])
    };
    Table {
        columns: vec![
            words("Patient", 0),
            words("Place", 2),
            words("Why", 4),
            numbers("Days", 0),
            words("Clears when", 3),
            words("Row", 2),
        ],
        rows: items.iter().take(n_shown).map(line).collect(),
    }
}
