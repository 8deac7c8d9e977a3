//! Files and records that rows came from.

use chrono::NaiveDate;
use serde::Serialize;

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SourceFile {
    /// The name as given in the pipeline file, never an absolute path.
    pub name: String,
    /// Size in bytes as read.
    pub bytes: u64,
}

/// Where a row came from: a file and the number of its data record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize)]
pub struct SourceRow {
    /// Position in `Tables::files`.
    pub file: u16,
    /// Number of the data record within the file, counted from 1, header not counted.
    pub record: u32,
}

/// A date together with the row that gave it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Dated {
    /// The calendar day.
    pub date: NaiveDate,
    /// The row it was read from.
    pub source: SourceRow,
}

impl Dated {
    /// A date and its row.
    pub const fn new(date: NaiveDate, source: SourceRow) -> Self {
        Self { date, source }
    }
}
