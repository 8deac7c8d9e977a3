//! Findings: what a check noticed about one row. A finding never carries the value of a cell.

mod listing;

pub use listing::{Listing, MOST_LISTED};

use crate::coded;
use crate::tables::SourceRow;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

coded! {
    /// What a finding does to its row.
    pub enum Severity {
        /// Worth knowing; the row is used as it is.
        Note = "note",
        /// One cell could not be read and counts as missing; the row is used.
        CellIgnored = "cell-ignored",
        /// The row is kept out, with this finding as its one reason.
        SetAside = "set-aside",
        /// The data cannot be trusted; the run stops.
        Stop = "stop",
    }
}

/// One thing a check found. `check` names the fault in kebab-case.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Name of the check, for example `visit-after-data-cut-off`.
    pub check: &'static str,
    /// What it does to the row.
    pub severity: Severity,
    /// File and record; `None` when it concerns a whole file or column.
    pub source: Option<SourceRow>,
    /// Header of the column, where one is concerned.
    pub column: Option<String>,
    /// The fact, in words, without any cell value.
    pub message: String,
    /// What the reader may do about it.
    pub hint: Option<String>,
    /// How many it stands for: one, or all of its kind that are not listed one by one.
    pub n: u64,
}

impl Finding {
    /// A finding about one row.
    pub fn on_row(
        check: &'static str,
        severity: Severity,
        source: SourceRow,
        message: impl Into<String>,
    ) -> Self {
        Self {
            check,
            severity,
            source: Some(source),
            column: None,
            message: message.into(),
            hint: None,
            n: 1,
        }
    }

    /// The same finding with the column it concerns.
    pub fn in_column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }

    /// The same finding with advice.
    pub fn with_hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

/// Checks that set a record aside because another one, which is used, tells the same visit.
const TOLD_AGAIN: [&str; 3] = ["older-version", "repeated-row", "superseded-row"];

/// Reasons that say of a row only that it holds nothing for this program. A whole records system exports mostly such rows,
/// and they are no fault of the data.
const OF_NO_INTEREST: [&str; 4] = [
    "appointment-of-no-visit",
    "code-tells-no-event",
    "coding-of-no-interest",
    "unknown-resource-type",
];

/// What became of the records of one file: read = used + the sum of set aside.
#[derive(Debug, Clone, PartialEq, Eq, Default, JsonSchema, Serialize)]
pub struct FileAccount {
    /// The file's name as given.
    pub file: String,
    /// Its size in bytes.
    pub bytes: u64,
    /// What the bytes of its text went to, once it is unpacked.
    pub text_bytes: ByteAccount,
    /// Data records read, header not counted.
    pub n_read: u64,
    /// Records used.
    pub n_used: u64,
    /// Records set aside, by the name of the check, in name order.
    pub set_aside: Vec<(String, u64)>,
}

/// The bytes of a file's text, each counted once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, JsonSchema, Serialize, Deserialize)]
pub struct ByteAccount {
    /// The header row with its line end and a byte-order mark.
    pub header: u64,
    /// Records used, with their line ends.
    pub used: u64,
    /// Records set aside, when they were read or later, with their line ends.
    pub set_aside: u64,
    /// Blank lines.
    pub blank: u64,
}

impl ByteAccount {
    /// Bytes of the text: its size as stored, unless it was packed.
    pub const fn total(&self) -> u64 {
        self.header + self.used + self.set_aside + self.blank
    }
}

impl FileAccount {
    /// Records set aside for any reason.
    pub fn n_set_aside(&self) -> u64 {
        self.set_aside.iter().map(|(_, n)| n).sum()
    }

    /// Records set aside without any loss: another record tells the same, or they hold nothing for this program.
    pub(crate) fn n_without_loss(&self) -> u64 {
        self.n_set_aside() - self.faults().map(|(_, n)| n).sum::<u64>()
    }

    /// Records set aside because of a fault of the data, by reason.
    pub fn faults(&self) -> impl Iterator<Item = &(String, u64)> {
        self.set_aside.iter().filter(|(check, _)| {
            let check = check.as_str();
            !TOLD_AGAIN.contains(&check) && !OF_NO_INTEREST.contains(&check)
        })
    }

    /// Whether every record read was either used or set aside.
    pub fn is_balanced(&self) -> bool {
        self.n_read == self.n_used + self.n_set_aside()
    }
}
