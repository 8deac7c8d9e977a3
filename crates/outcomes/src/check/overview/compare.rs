//! What differs between two parts of an export, or between two exports, beyond chance.
//!
//! Every share is held against its earlier self by Fisher's exact test. Rows of one person resemble each other, so they count
//! for what they are worth at least: as if all rows of a person said the same. The limit is set so that, were nothing
//! different, a whole comparison would raise a false alarm in at most one of a hundred exports (Bonferroni: the chance is
//! shared out evenly among all comparisons made). A difference must also be large enough to matter.

use super::fisher::fisher;
use super::{ColumnOverview, Extent, FileOverview, Sums};
use crate::check::middle_of;
use serde::Serialize;
use survival::distribution::two_sided_p_value;

/// The chance of any false alarm in a comparison of which nothing differs.
const FALSE_ALARM: f64 = 0.01;
/// Rows worth fewer independent ones on either side are not compared.
const FEWEST: u64 = 20;
/// Smaller differences of shares do not matter.
const LEAST_SHARE: f64 = 0.05;
/// A middle that moved less does not matter, as a share of the earlier.
const LEAST_MOVE: f64 = 0.15;
/// Fewer earlier months have no scatter worth judging.
const FEWEST_MONTHS: usize = 6;
/// A month with at least this share of the earlier rows a month is no loss.
const ENOUGH_ROWS: f64 = 0.7;

/// Which part of an export stands for "now" and which for "earlier".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Rows before the dividing day.
    Before,
    /// Rows from it on.
    Since,
    /// All rows.
    Whole,
}

/// What was compared and what differs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// What stands on the earlier side, in words.
    pub earlier: String,
    /// What stands on the later side, in words.
    pub later: String,
    /// How many shares were held against each other.
    pub n_comparisons: u64,
    /// The rule and its chance of a false alarm, in words.
    pub rule: String,
    /// What differs, columns in file order.
    pub changes: Vec<Change>,
}

/// One difference.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Change {
    /// What kind of difference.
    pub kind: ChangeKind,
    /// The file.
    pub file: String,
    /// The column, where one is concerned.
    pub column: Option<String>,
    /// The fact, with its counts.
    pub words: String,
}

crate::coded! {
    /// Kinds of difference.
    pub enum ChangeKind {
        /// A file of this kind was there earlier.
        FileVanished = "file-vanished",
        /// A column was there earlier.
        ColumnVanished = "column-vanished",
        /// A column was not there earlier.
        ColumnNew = "column-new",
        /// Months that were exported before hold fewer rows now.
        RowsVanished = "rows-vanished",
        /// Fewer rows a month than earlier.
        FewerRows = "fewer-rows-a-month",
        /// A column is empty more or less often.
        MissingShare = "share-missing-changed",
        /// Codes occur in other shares.
        CodeShares = "code-shares-changed",
        /// Codes that nobody has declared occur more often.
        UnknownCodes = "undeclared-codes-more-often",
        /// The middle of the numbers moved.
        Middle = "middle-of-numbers-moved",
        /// Dates are written in another order than declared more often.
        DateOrder = "dates-in-another-order",
    }
}

/// Compares the rows before the dividing day with those from it on, within one export.
pub fn compare_parts(files: &[FileOverview], earlier: &str, later: &str) -> Comparison {
    let pairs: Vec<_> = files
        .iter()
        .filter(|file| !file.months.is_empty())
        .map(|file| Pair {
            earlier: file,
            earlier_part: Part::Before,
            later: file,
            later_part: Part::Since,
        })
        .collect();
    compare(&pairs, Vec::new(), earlier, later)
}

/// Compares an earlier export with the rows of a later one that are new, or with all of them where none is.
pub fn compare_with_earlier(
    before: &[FileOverview],
    files: &[FileOverview],
    part: Part,
    earlier: &str,
    later: &str,
) -> Comparison {
    let mut changes = Vec::new();
    let mut pairs = Vec::new();
    let mut taken = vec![false; files.len()];
    for old in before {
        // files are matched by what they hold, in the order given; yearly files have other names each year
        let place = files
            .iter()
            .zip(&taken)
            .position(|(file, is_taken)| !is_taken && file.role == old.role);
        let Some((place, file)) = place.and_then(|place| Some((place, files.get(place)?))) else {
            if !files.iter().any(|file| file.role == old.role) {
                changes.push(change(
                    ChangeKind::FileVanished,
                    &old.file,
                    None,
                    format!("a file of {} was exported earlier and is not now", old.role),
                ));
            }
            continue;
        };
        if let Some(is_taken) = taken.get_mut(place) {
            *is_taken = true;
        }
        let has_dates = !file.months.is_empty();
        pairs.push(Pair {
            earlier: old,
            earlier_part: Part::Whole,
            later: file,
            later_part: if has_dates { part } else { Part::Whole },
        });
    }
    for pair in &pairs {
        changes.extend(columns(pair.earlier, pair.later));
        changes.extend(vanished_rows(pair.earlier, pair.later));
    }
    compare(&pairs, changes, earlier, later)
}

/// Two sides to be compared.
struct Pair<'f> {
    earlier: &'f FileOverview,
    earlier_part: Part,
    later: &'f FileOverview,
    later_part: Part,
}

fn change(kind: ChangeKind, file: &str, column: Option<&str>, words: String) -> Change {
    Change {
        kind,
        file: file.to_owned(),
        column: column.map(str::to_owned),
        words,
    }
}

fn columns(old: &FileOverview, new: &FileOverview) -> Vec<Change> {
    let lacks = |file: &FileOverview, header: &str| {
        file.columns.iter().all(|column| column.header != header)
    };
    let vanished = old
        .columns
        .iter()
        .filter(|column| lacks(new, &column.header))
        .map(|column| {
            let filled = if column.field.is_empty() {
                String::new()
            } else {
                format!("; it filled {}", column.field)
            };
            change(
                ChangeKind::ColumnVanished,
                &new.file,
                Some(&column.header),
                format!("the column was exported earlier and is not now{filled}"),
            )
        });
    let added = new
        .columns
        .iter()
        .filter(|column| lacks(old, &column.header))
        .map(|column| {
            change(
                ChangeKind::ColumnNew,
                &new.file,
                Some(&column.header),
                "the column was not exported earlier".to_owned(),
            )
        });
    vanished.chain(added).collect()
}

/// Months that both exports hold. The earlier one's last month may have been exported half, so it may only have grown.
fn vanished_rows(old: &FileOverview, new: &FileOverview) -> Option<Change> {
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

fn compare(pairs: &[Pair<'_>], mut changes: Vec<Change>, earlier: &str, later: &str) -> Comparison {
    let mut trials = Vec::new();
    for pair in pairs {
        trials.extend(trials_of(pair));
    }
    let n_comparisons = trials.len() as u64;
    let limit = FALSE_ALARM / n_comparisons.max(1) as f64;
    changes.extend(
        trials
            .into_iter()
            .filter(|trial| trial.matters && trial.chance < limit)
            .map(|trial| trial.change),
    );
    Comparison {
        earlier: earlier.to_owned(),
        later: later.to_owned(),
        n_comparisons,
        rule: format!(
            "A share counts as changed when it moved by {:.0} points or more, the middle of numbers when it moved by {:.0} % or more, rows a month when they fell below {:.0} %, and chance alone would move it so far in fewer than 1 of {} comparisons. With {n_comparisons} comparisons of which nothing differs, about 1 export in {:.0} would give a false alarm. Rows of one person count as if they all said the same; sides worth fewer than {FEWEST} independent rows are not compared.",
            100.0 * LEAST_SHARE,
            100.0 * LEAST_MOVE,
            100.0 * ENOUGH_ROWS,
            (trials_for_words(n_comparisons)),
            1.0 / FALSE_ALARM,
        ),
        changes,
    }
}

fn trials_for_words(n_comparisons: u64) -> u64 {
    100 * n_comparisons.max(1)
}

/// One share against another.
struct Trial {
    /// The chance of so large a difference where there is none.
    chance: f64,
    matters: bool,
    change: Change,
}

fn trials_of(pair: &Pair<'_>) -> Vec<Trial> {
    let (old, new) = (
        extent(pair.earlier, pair.earlier_part),
        extent(pair.later, pair.later_part),
    );
    let mut trials: Vec<Trial> = rows_a_month(pair).into_iter().collect();
    for column in &pair.later.columns {
        let Some(earlier) = pair
            .earlier
            .columns
            .iter()
            .find(|earlier| earlier.header == column.header)
        else {
            continue;
        };
        let (before, now) = (
            sums(earlier, pair.earlier_part),
            sums(column, pair.later_part),
        );
        let place = Place {
            file: &pair.later.file,
            column,
        };
        trials.extend(missing(&place, (&before, old), (&now, new)));
        trials.extend(codes(&place, (&before, old), (&now, new)));
        trials.extend(middle(&place, (&before, old), (&now, new)));
        trials.extend(date_order(&place, (&before, old), (&now, new)));
    }
    trials
}

fn extent(file: &FileOverview, part: Part) -> Extent {
    match part {
        Part::Before => file.before,
        Part::Since => file.since,
        // who has rows in both parts is counted once at most, so that nothing seems surer than it is
        Part::Whole => Extent {
            n_rows: file.n_rows(),
            n_people: file.before.n_people.max(file.since.n_people),
            n_independent: file.before.n_independent.max(file.since.n_independent),
        },
    }
}

fn sums(column: &ColumnOverview, part: Part) -> Sums {
    match part {
        Part::Before => column.before.clone(),
        Part::Since => column.since.clone(),
        Part::Whole => column.whole(),
    }
}

struct Place<'p> {
    file: &'p str,
    column: &'p ColumnOverview,
}

type Side<'s> = (&'s Sums, Extent);

impl Place<'_> {
    fn trial(
        &self,
        kind: ChangeKind,
        (share_before, n_before): (f64, u64),
        (share_now, n_now): (f64, u64),
        matters: bool,
        words: String,
    ) -> Option<Trial> {
        if n_before < FEWEST || n_now < FEWEST {
            return None;
        }
        let yes = |share: f64, n: u64| (share * n as f64).round() as u64;
        let chance = fisher(
            (yes(share_before, n_before), n_before),
            (yes(share_now, n_now), n_now),
        );
        Some(Trial {
            chance,
            matters,
            change: change(kind, self.file, Some(&self.column.header), words),
        })
    }
}

fn share(part: u64, whole: u64) -> f64 {
    if whole == 0 {
        0.0
    } else {
        part as f64 / whole as f64
    }
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn missing(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Option<Trial> {
    let gone = |(sums, extent): Side<'_>| 1.0 - share(sums.n_present, extent.n_rows);
    let (was, is) = (gone(before), gone(now));
    place.trial(
        ChangeKind::MissingShare,
        (was, before.1.n_independent),
        (is, now.1.n_independent),
        (is - was).abs() >= LEAST_SHARE,
        format!(
            "empty in {} of the rows, earlier in {}",
            percent(is),
            percent(was)
        ),
    )
}

fn codes(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Vec<Trial> {
    if before.0.codes.is_empty() && now.0.codes.is_empty() {
        return Vec::new();
    }
    let of = |(sums, _): Side<'_>, code: &str| {
        let n = sums.codes.iter().find(|(known, _)| known == code);
        share(n.map_or(0, |(_, n)| *n), sums.n_present)
    };
    let mut known: Vec<&String> = before
        .0
        .codes
        .iter()
        .chain(&now.0.codes)
        .map(|(code, _)| code)
        .collect();
    known.sort();
    known.dedup();
    let mut trials: Vec<Trial> = known
        .into_iter()
        .filter_map(|code| {
            let (was, is) = (of(before, code), of(now, code));
            place.trial(
                ChangeKind::CodeShares,
                (was, before.0.n_independent),
                (is, now.0.n_independent),
                (is - was).abs() >= LEAST_SHARE,
                format!(
                    "`{code}` in {} of the cells, earlier in {}",
                    percent(is),
                    percent(was)
                ),
            )
        })
        .collect();
    let unknown = |(sums, _): Side<'_>| share(sums.n_unknown_codes, sums.n_present);
    let (was, is) = (unknown(before), unknown(now));
    trials.extend(place.trial(
        ChangeKind::UnknownCodes,
        (was, before.0.n_independent),
        (is, now.0.n_independent),
        is - was >= LEAST_SHARE,
        format!(
            "codes that the layout does not declare in {} of the cells, earlier in {}",
            percent(is),
            percent(was)
        ),
    ));
    trials
}

/// The median test: the share of numbers above the earlier middle. A. M. Mood, Introduction to the Theory of Statistics,
/// 1950 (from memory).
fn middle(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Option<Trial> {
    let n_before: u64 = before.0.sizes.iter().map(|(_, n)| n).sum();
    let n_now: u64 = now.0.sizes.iter().map(|(_, n)| n).sum();
    let (was, is) = (median_bin(&before.0.sizes)?, median_bin(&now.0.sizes)?);
    let above = |sizes: &[(u16, u64)], n: u64| {
        let n_above: u64 = sizes
            .iter()
            .filter(|(bin, _)| *bin > was)
            .map(|(_, n)| n)
            .sum();
        share(n_above, n)
    };
    let (value_was, value_is) = (middle_of(was), middle_of(is));
    let unit = if place.column.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", place.column.unit)
    };
    place.trial(
        ChangeKind::Middle,
        (
            above(&before.0.sizes, n_before),
            n_before.min(before.0.n_independent),
        ),
        (above(&now.0.sizes, n_now), n_now.min(now.0.n_independent)),
        (value_is / value_was - 1.0).abs() >= LEAST_MOVE,
        format!(
            "the middle of the numbers is about {}{unit}, earlier about {}{unit}",
            rounded(value_is),
            rounded(value_was)
        ),
    )
}

fn median_bin(sizes: &[(u16, u64)]) -> Option<u16> {
    let n: u64 = sizes.iter().map(|(_, n)| n).sum();
    let mut n_before = 0;
    sizes
        .iter()
        .find(|(_, n_bin)| {
            n_before += n_bin;
            2 * n_before >= n
        })
        .map(|(bin, _)| *bin)
}

/// Two significant digits: a bin tells no more.
fn rounded(value: f64) -> String {
    format!("{value:.1e}")
        .parse::<f64>()
        .map_or_else(|_| String::new(), |value| value.to_string())
}

fn date_order(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Option<Trial> {
    let all = |sums: &Sums| sums.n_dates + sums.n_other_order;
    if all(before.0) == 0 || all(now.0) == 0 {
        return None;
    }
    let other = |(sums, _): Side<'_>| share(sums.n_other_order, all(sums));
    let (was, is) = (other(before), other(now));
    place.trial(
        ChangeKind::DateOrder,
        (was, before.0.n_independent),
        (is, now.0.n_independent),
        is - was >= LEAST_SHARE,
        format!(
            "{} of the dates are dates in another order only, earlier {}",
            percent(is),
            percent(was)
        ),
    )
}

/// Rows a month on the later side against up to twelve months before it. Months scatter more than counts of a chance process
/// do, so the scatter of the earlier months is what a mean is held against.
fn rows_a_month(pair: &Pair<'_>) -> Option<Trial> {
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
fn count_of_months(months: &[super::MonthRows], n_rows: u64) -> usize {
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
