//! What a measure comes to by other rules, units or estimators: the newest figures in one table.

use super::block::{Block, Cell, Row, cell, numbers, row, table, words};
use crate::page::{fraction, newest_of};
use crate::wording;
use outcomes::report::MeasureSheet;

const ABSENT: &str = "–";

/// Adds the table of these versions; nothing where there is none.
pub(super) fn table_of(versions: &[&MeasureSheet], blocks: &mut Vec<Block>) {
    if versions.is_empty() {
        return;
    }
    let columns = vec![
        words("The same by another rule", 4),
        words("Cohort", 4),
        numbers("Value", 2),
        numbers("Interval", 2),
        numbers("Count", 0),
    ];
    let rows = versions.iter().flat_map(|sheet| newest(sheet));
    blocks.push(table(columns, rows.collect()));
}

fn newest(sheet: &MeasureSheet) -> Vec<Row> {
    let dash = || ABSENT.to_owned();
    newest_of(sheet)
        .map(|result| {
            let title = wording::of_stratum(&sheet.title, &result.stratum);
            let value = Cell {
                words: wording::value(&result.value, result.unit),
                note: String::new(),
                is_strong: true,
            };
            row(vec![
                cell(title),
                cell(&result.cohort),
                value,
                cell(wording::value_limits(&result.value, result.unit).unwrap_or_else(dash)),
                cell(fraction(result).unwrap_or_else(dash)),
            ])
        })
        .collect()
}
