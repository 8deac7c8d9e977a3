//! Every series watched over the quarters, and what was found.

use super::block::{Block, Cell, cell, paragraph, row, section, table, words};
use crate::page::WATCHED;
use outcomes::report::Monitoring;

/// Adds the section; nothing where no series is watched.
pub(super) fn section_of(monitoring: &Monitoring, blocks: &mut Vec<Block>) {
    if monitoring.series.is_empty() {
        return;
    }
    blocks.push(section(WATCHED));
    blocks.extend(monitoring.rules.iter().map(paragraph));
    let rows = monitoring.series.iter().map(|series| {
        row(vec![
            cell(&series.title),
            Cell {
                words: if series.is_signal {
                    format!("signal: {}", series.finding)
                } else {
                    series.finding.clone()
                },
                note: String::new(),
                is_strong: series.is_signal,
            },
            cell(if series.figure.is_some() {
                "charted"
            } else {
                "no chart"
            }),
        ])
    });
    let columns = vec![words("Series", 3), words("Finding", 6), words("Chart", 0)];
    blocks.push(table(columns, rows.collect()));
}
