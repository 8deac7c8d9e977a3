//! What became of the figures of an earlier report, and why.

use super::block::{Block, cell, heading, note, numbers, paragraph, row, section, table, words};
use crate::page::{CHANGED, GIVEN_OR_NOT, RESTATED_WORDS};
use crate::wording;
use outcomes::report::words::value_with_counts;
use outcomes::report::{ChangedResult, Changes};

/// Changed figures of a kind on paper; all of them are on the page and in the data.
const MOST: usize = 40;

/// Adds the section.
pub(super) fn section_of(changes: &Changes, blocks: &mut Vec<Block>) {
    blocks.push(section(CHANGED));
    blocks.push(Block::List {
        items: changes.sentences.clone(),
    });
    if !changes.differences.is_empty() {
        blocks.push(heading("What is different between the two runs"));
        blocks.push(Block::List {
            items: changes.differences.clone(),
        });
    }
    if !changes.counts.is_empty() {
        blocks.push(heading("Changed figures by measure and cause"));
        blocks.push(counts(changes));
    }
    if !changes.restatements.is_empty() {
        blocks.push(heading("Restated figures"));
        blocks.push(paragraph(RESTATED_WORDS));
        results(&changes.restatements, blocks);
    }
    if !changes.others.is_empty() {
        blocks.push(heading(GIVEN_OR_NOT));
        results(&changes.others, blocks);
    }
}

fn counts(changes: &Changes) -> Block {
    let rows = changes.counts.iter().map(|count| {
        row(vec![
            cell(&count.measure),
            cell(&count.causes),
            cell(wording::whole(count.n_restated)),
            cell(wording::whole(count.n_new)),
            cell(wording::whole(count.n_gone)),
        ])
    });
    let columns = vec![
        words("Measure", 4),
        words("Why", 3),
        numbers("Restated", 0),
        numbers("Given now", 0),
        numbers("Not given any more", 0),
    ];
    table(columns, rows.collect())
}

fn results(changed: &[ChangedResult], blocks: &mut Vec<Block>) {
    let rows = changed.iter().take(MOST).map(|changed| {
        let before = &changed.before;
        let causes: Vec<&str> = changed.causes.iter().map(|cause| cause.code()).collect();
        row(vec![
            cell(&before.measure),
            cell(wording::of_stratum(&before.period, &before.stratum)),
            cell(value_with_counts(before)),
            cell(wording::value_now(changed.after.as_ref())),
            cell(causes.join(", ")),
        ])
    });
    let columns = vec![
        words("Measure", 3),
        words("Cohort", 2),
        words("Then", 3),
        words("Now", 3),
        words("Why", 2),
    ];
    blocks.push(table(columns, rows.collect()));
    if changed.len() > MOST {
        let more = wording::whole((changed.len() - MOST) as u64);
        blocks.push(note(format!("Further figures, in report.html: {more}.")));
    }
}
