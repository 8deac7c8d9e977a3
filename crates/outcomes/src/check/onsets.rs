//! Onsets that were rounded before they were written down.

use super::found;
use crate::finding::Finding;
use crate::tables::{DatePrecision, Tables};
use chrono::Datelike;

/// Fewer onsets say nothing.
const FEWEST: usize = 30;

/// Onsets given to the day that crowd on the first of the month. Of `n` days at random n / 30.4 are the first of a month.
pub(super) fn heaped_onsets(tables: &Tables, findings: &mut Vec<Finding>) {
    let mut onsets: Vec<_> = tables
        .ulcer_observations
        .iter()
        .filter_map(|row| {
            let onset = row.onset?;
            (onset.precision == DatePrecision::Day).then_some((
                row.patient,
                row.side,
                row.label,
                onset.dated.date,
            ))
        })
        .collect();
    onsets.sort_unstable();
    onsets.dedup();
    let n_first = onsets.iter().filter(|onset| onset.3.day() == 1).count();
    if onsets.len() < FEWEST || 5 * n_first < onsets.len() {
        return;
    }
    let mut finding = found(
        "onsets-heaped-on-first-of-month",
        Default::default(),
        "a fifth or more of the onsets given to the day fall on the first of a month",
    )
    .with_hint("where only the month is known, declare it with `onset_precision` in the layout");
    finding.source = None;
    findings.push(finding);
}
