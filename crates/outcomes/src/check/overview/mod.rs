//! Everything about an export without its outcomes, as plain data: the content of the `check` command.
//!
//! It holds counts, names of columns, and codes that the layout itself declares; never the value of any other cell.

mod compare;
mod fisher;
mod group;
mod orders;
mod topic;

pub use compare::{Change, ChangeKind, Comparison, Part, compare_parts, compare_with_earlier};
pub use group::{FindingGroup, grouped};
pub use orders::check_date_orders;
pub use topic::{Topic, topic};

use crate::finding::ByteAccount;
use crate::rules::DeclaredDates;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// An export as the checks see it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overview {
    /// Name and version of the program.
    pub program: String,
    /// Whose export it is.
    pub practice: String,
    /// The layout it was read with.
    pub layout: String,
    /// First day the export covers.
    pub data_start: NaiveDate,
    /// Last day the export covers.
    pub cut_off: NaiveDate,
    /// What the layout declares its dates to be.
    pub dates: DeclaredDates,
    /// Why a run would stop; empty when it would not.
    pub stops: Vec<String>,
    /// Rows and persons of each table.
    pub tables: Vec<TableLine>,
    /// Every file, in reading order.
    pub files: Vec<FileOverview>,
    /// Findings, by rule and column.
    pub findings: Vec<FindingGroup>,
    /// What differs from an earlier time.
    pub comparison: Option<Comparison>,
}

/// Rows and persons of a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TableLine {
    /// The table.
    pub table: String,
    /// Its rows.
    pub n_rows: u64,
    /// Persons with a row in it.
    pub n_persons: u64,
}

/// One file: its account and its columns.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FileOverview {
    /// Its name as given.
    pub file: String,
    /// What it holds, for example `visits`.
    pub role: String,
    /// Its size in bytes.
    pub bytes: u64,
    /// What the bytes of its text went to.
    pub text_bytes: ByteAccount,
    /// Records read.
    pub n_read: u64,
    /// Records used.
    pub n_used: u64,
    /// Records set aside, by check.
    pub set_aside: Vec<(String, u64)>,
    /// Records profiled by month, oldest first; empty where rows have no date.
    pub months: Vec<MonthRows>,
    /// Records profiled and the people in them, before and from the day on that divides the export.
    pub before: Extent,
    /// From that day on.
    pub since: Extent,
    /// Its columns, in file order.
    pub columns: Vec<ColumnOverview>,
}

/// Records and people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Extent {
    /// Records.
    pub n_rows: u64,
    /// People in them.
    pub n_people: u64,
    /// How many independent rows they are worth.
    pub n_independent: u64,
}

/// Records of one month.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MonthRows {
    /// The month, as `2025-03`.
    pub month: String,
    /// Records dated in it.
    pub n_rows: u64,
}

/// One column of a file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ColumnOverview {
    /// Its header.
    pub header: String,
    /// The field of ours that it fills, as `foot_exam.abi`; empty when it is not read.
    pub field: String,
    /// The unit the layout declares for it; empty where it has none.
    pub unit: String,
    /// What the layout does with it.
    pub reading: Reading,
    /// Records that hold something in it, by month, in the order of the file's months.
    pub present_by_month: Vec<u64>,
    /// Counts before the day that divides the export.
    pub before: Sums,
    /// Counts from that day on.
    pub since: Sums,
}

/// What the layout does with a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reading {
    /// Fills a field.
    Read,
    /// Listed as of no use.
    Ignored,
    /// Neither mapped nor ignored.
    NotInLayout,
}

/// What the cells of a column come to in one part of an export.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Sums {
    /// Records that hold something, spellings of "missing" not counted.
    pub n_present: u64,
    /// How many independent cells they are worth.
    #[serde(default)]
    pub n_independent: u64,
    /// Numbers, by size as written: (bin, how many). A bin spans at most an eighth of its lower edge.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sizes: Vec<(u16, u64)>,
    /// Codes that the layout declares or this program knows: (code, how many).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub codes: Vec<(String, u64)>,
    /// Cells that hold another code.
    #[serde(default)]
    pub n_unknown_codes: u64,
    /// Cells that are a date in the declared order.
    #[serde(default)]
    pub n_dates: u64,
    /// Cells that are a date in another order only.
    #[serde(default)]
    pub n_other_order: u64,
}

impl Sums {
    /// Both parts together.
    pub fn plus(&self, other: &Self) -> Self {
        let mut sums = self.clone();
        sums.n_present += other.n_present;
        // who has cells in both parts would count twice
        sums.n_independent = sums.n_independent.max(other.n_independent);
        sums.n_unknown_codes += other.n_unknown_codes;
        sums.n_dates += other.n_dates;
        sums.n_other_order += other.n_other_order;
        for (bin, n) in &other.sizes {
            match sums.sizes.iter_mut().find(|(known, _)| known == bin) {
                Some((_, known)) => *known += n,
                None => sums.sizes.push((*bin, *n)),
            }
        }
        sums.sizes.sort_unstable();
        for (code, n) in &other.codes {
            match sums.codes.iter_mut().find(|(known, _)| known == code) {
                Some((_, known)) => *known += n,
                None => sums.codes.push((code.clone(), *n)),
            }
        }
        sums
    }
}

impl ColumnOverview {
    /// The column over the whole export.
    pub fn whole(&self) -> Sums {
        self.before.plus(&self.since)
    }
}

impl FileOverview {
    /// Records profiled. People who have rows in both parts count in both.
    pub const fn n_rows(&self) -> u64 {
        self.before.n_rows + self.since.n_rows
    }
}

/// How many independent rows the rows of people are worth when all rows of one person say the same: the square of the sum of
/// their numbers over the sum of their squares. L. Kish, Survey Sampling, 1965 (from memory).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Worth {
    sum: f64,
    squares: f64,
}

impl Worth {
    /// Counts the rows of a person.
    pub fn add(&mut self, n_rows: u64) {
        let n = n_rows as f64;
        self.sum += n;
        self.squares += n * n;
    }

    /// What they are worth together.
    pub fn rows(&self) -> u64 {
        if self.squares > 0.0 {
            (self.sum * self.sum / self.squares).floor() as u64
        } else {
            0
        }
    }
}

impl FromIterator<u64> for Worth {
    fn from_iter<I: IntoIterator<Item = u64>>(rows_of_each: I) -> Self {
        let mut worth = Self::default();
        rows_of_each.into_iter().for_each(|n| worth.add(n));
        worth
    }
}
