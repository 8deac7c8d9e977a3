//! Rows of each month: those that vanished, and those that came.

use super::{Change, ChangeKind, Pair, Part, Trial, change};
use crate::check::overview::{FileOverview, MonthRows};
use survival::distribution::two_sided_p_value;

/// Fewer earlier months have no scatter worth judging.
const FEWEST_MONTHS: usize = 6;
/// A month with at least this share of the earlier rows a month is no loss.
pub(super) const ENOUGH_ROWS: f64 = 0.7;

/// Months that both exports hold. The earlier one's last month may have been exported half, so it may only have grown.
pub(super) fn vanished_rows(old: &FileOverview, new: &FileOverview) -> Option<Change> {
    let first = &new.months.first()?.month;
    let lost: Vec<(u64, &str)> = old
        .months
        .iter()
        .filter(|month| month.month >= *first)
        .filter_map(|month| {
            let now = new.months.iter().find(|other| other.month == month.month);
            let n_now = now.map_or(0, |now| now.n_rows);
            (n_now < month.n_rows).then(|| (month.n_rows - n_now, month.month.as_str()))
        })
        .collect();
    let n_lost: u64 = lost.iter().map(|(n, _)| n).sum();
    let (_, first) = lost.first()?;
    Some(change(
        ChangeKind::RowsVanished,
        &new.file,
        None,
        format!(
            "{n_lost} rows of {} months that were exported earlier are not there now, first in {first}",
            lost.len()
        ),
    ))
}

/// Rows a month on the later side against up to twelve months before it. Months scatter more than counts of a chance process
/// do, so the scatter of the earlier months is what a mean is held against.
pub(super) fn rows_a_month(pair: &Pair<'_>) -> Option<Trial> {
    let new = &pair.later.months;
    let n_later = match pair.later_part {
        Part::Since => count_of_months(new, pair.later.since.n_rows),
        Part::Before | Part::Whole => {
            let last = &pair.earlier.months.last()?.month;
            new.iter().filter(|month| month.month > *last).count()
        }
    };
    let (old, later) = new.split_at(new.len() - n_later);
    // the export itself tells the earlier months best, unless it holds new rows only
    let old = if old.len() > FEWEST_MONTHS {
        old
    } else {
        pair.earlier.months.as_slice()
    };
    // the first month may have been exported half
    let earlier: Vec<f64> = old
        .iter()
        .skip(1)
        .rev()
        .take(12)
        .map(|month| month.n_rows as f64)
        .collect();
    if earlier.len() < FEWEST_MONTHS || later.is_empty() {
        return None;
    }
    let mean = earlier.iter().sum::<f64>() / earlier.len() as f64;
    let squares: f64 = earlier.iter().map(|n| (n - mean).powi(2)).sum();
    let variance = (squares / (earlier.len() - 1) as f64).max(mean);
    let now = later.iter().map(|month| month.n_rows as f64).sum::<f64>() / later.len() as f64;
    let error = (variance / earlier.len() as f64 + variance / later.len() as f64).sqrt();
    (error > 0.0).then(|| Trial {
        chance: two_sided_p_value((now - mean) / error),
        matters: now < ENOUGH_ROWS * mean,
        change: change(
            ChangeKind::FewerRows,
            &pair.later.file,
            None,
            format!(
                "{now:.0} rows a month over {} months, earlier {mean:.0}",
                later.len()
            ),
        ),
    })
}

/// How many of the last months hold so many rows.
fn count_of_months(months: &[MonthRows], n_rows: u64) -> usize {
    let mut n_left = n_rows;
    months
        .iter()
        .rev()
        .take_while(|month| {
            let is_in = n_left > 0;
            n_left = n_left.saturating_sub(month.n_rows);
            is_in
        })
        .count()
}
