//! What differs between two parts of an export, or between two exports, beyond chance.
//!
//! Every share is held against its earlier self by Fisher's exact test. Rows of one person resemble each other, so they count
//! for what they are worth at least: as if all rows of a person said the same. The limit is set so that, were nothing
//! different, a whole comparison would raise a false alarm in at most one of a hundred exports (Bonferroni: the chance is
//! shared out evenly among all comparisons made). A difference must also be large enough to matter.

mod months;
mod numbers;
mod shares;

use super::{ColumnOverview, Extent, FileOverview, Sums};
use months::{ENOUGH_ROWS, rows_a_month, vanished_rows};
use numbers::{LEAST_MOVE, LEAST_OUTSIDE, middle, spread};
use serde::Serialize;
use shares::{FEWEST, LEAST_SHARE, Place, codes, date_order, missing};

/// The chance of any false alarm in a comparison of which nothing differs.
const FALSE_ALARM: f64 = 0.01;

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
        /// A declared code that did not occur earlier.
        CodeNew = "code-new",
        /// A declared code that occurred earlier and no longer does.
        CodeGone = "code-gone",
        /// Codes that nobody has declared occur more often.
        UnknownCodes = "undeclared-codes-more-often",
        /// The middle of the numbers moved.
        Middle = "middle-of-numbers-moved",
        /// More or fewer numbers lie beyond the earlier lowest or highest twentieth.
        Spread = "spread-of-numbers-changed",
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

fn compare(pairs: &[Pair<'_>], mut changes: Vec<Change>, earlier: &str, later: &str) -> Comparison {
    let mut trials = Vec::new();
    for pair in pairs {
        trials.extend(trials_of(pair));
    }
    let n_comparisons = trials.len() as u64;
    let limit = FALSE_ALARM / n_comparisons.max(1) as f64;
    let comparisons = crate::report::words::counted(trials.len(), "comparison", "comparisons");
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
            "A share counts as changed when it moved by {:.0} points or more, the middle of numbers when it moved by {:.0} % or more, the share beyond the earlier lowest or highest twentieth when it moved by {:.0} points or more, a code that came or went when it did so beyond chance, rows a month when they fell below {:.0} %, and chance alone would move it so far in fewer than 1 of {} comparisons. With {comparisons} of which nothing differs, about 1 export in {:.0} would give a false alarm. Rows of one person count as if they all said the same; sides worth fewer than {FEWEST} independent rows are not compared.",
            100.0 * LEAST_SHARE,
            100.0 * LEAST_MOVE,
            100.0 * LEAST_OUTSIDE,
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
        let moved = middle(&place, (&before, old), (&now, new));
        // where the middle moved, the rest moved with it
        let has_moved = moved.as_ref().is_some_and(|trial| trial.matters);
        trials.extend(moved);
        trials.extend(
            spread(&place, (&before, old), (&now, new))
                .into_iter()
                .map(|trial| Trial {
                    matters: trial.matters && !has_moved,
                    ..trial
                }),
        );
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
