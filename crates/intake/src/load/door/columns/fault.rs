//! What can be wrong with a file of columns.

use super::super::super::error::LoadError;

/// A fault, before it is known which file has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Fault {
    /// The bytes are not what the format says.
    Damaged(&'static str),
    /// The file is sound, and a column of it is not read.
    Column {
        place: usize,
        why: &'static str,
        hint: &'static str,
    },
    /// It unfolds too far.
    TooFar(String),
    /// One record takes more than a record may.
    RecordTooLong,
    /// The disk.
    Unreadable(String),
}

impl Fault {
    /// As an error of a file; `record` is the one being read.
    pub(super) fn of_file(self, file: &str, headers: &[String], record: u64) -> LoadError {
        let file = file.to_owned();
        match self {
            Self::Damaged(what) => LoadError::Damaged { file, what },
            Self::Column { place, why, hint } => LoadError::ColumnNotRead {
                file,
                column: headers.get(place).cloned().unwrap_or_default(),
                why,
                hint,
            },
            Self::TooFar(reason) | Self::Unreadable(reason) => {
                LoadError::Unreadable { file, reason }
            }
            Self::RecordTooLong => LoadError::RecordTooLong {
                file,
                record,
                most_mib: super::super::LONGEST_RECORD_BYTES >> 20,
            },
        }
    }
}

impl From<std::io::Error> for Fault {
    fn from(error: std::io::Error) -> Self {
        Self::Unreadable(error.to_string())
    }
}
