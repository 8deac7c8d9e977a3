//! Columns whose dates look written in another order than declared.

use super::FileOverview;
use crate::finding::{Finding, Severity};

/// Fewer cells say nothing.
const FEWEST: u64 = 5;

/// Columns of which many cells are dates in another order of day and month, or with another separator, than declared.
/// Cells that are dates in both orders say nothing.
pub fn check_date_orders(files: &[FileOverview]) -> Vec<Finding> {
    let columns = files
        .iter()
        .flat_map(|file| file.columns.iter().map(move |column| (file, column)));
    columns
        .filter_map(|(file, column)| {
            let sums = column.whole();
            let n_other = sums.n_other_order;
            let is_doubtful = n_other >= FEWEST && 20 * n_other >= n_other + sums.n_dates;
            is_doubtful.then(|| Finding {
                check: "date-order-suspected",
                severity: Severity::Note,
                source: None,
                column: Some(column.header.clone()),
                message: format!(
                    "{}: {n_other} of its cells are dates only in another order than the declared one",
                    file.file
                ),
                hint: Some(
                    "declare the order with `format` at this column of the layout; if it changed on the way, export the dates again"
                        .to_owned(),
                ),
 n: 1,
})
        })
        .collect()
}
