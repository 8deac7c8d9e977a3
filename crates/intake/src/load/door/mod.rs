//! The doors of a file: whatever its format, it becomes a header and records of text cells, one by one.

mod columns;
mod delimited;
mod lines;
mod packed;
mod record;
mod source;

pub(crate) use lines::PlainLines;
pub(crate) use packed::Unpacking;
pub(crate) use record::{Cells, Record};
pub(crate) use source::Source;

use super::error::LoadError;
use crate::layout::Form;
use columns::Columns;
use delimited::Delimited;
use lines::Lines;
use outcomes::finding::ByteAccount;
use source::Format;

/// Bytes of the longest record that is read. A longer one is a file that is not what it seems; nobody types so much.
pub(crate) const LONGEST_RECORD_BYTES: u64 = 16 << 20;

/// More columns than any export has.
pub(crate) const MOST_COLUMNS: usize = 10_000;

/// An open file behind its door.
pub(crate) enum Door {
    Delimited(Box<Delimited>),
    Lines(Box<Lines>),
    Columns(Box<Columns>),
}

/// What remains of a file when its last record has been read.
pub(crate) struct Closed {
    /// Size of the file as stored.
    pub(crate) n_bytes: u64,
    pub(crate) sha256: String,
    /// Bytes of its text, once it is unpacked.
    pub(crate) n_text_bytes: u64,
    /// What its text was made of, rows not counted.
    pub(crate) bytes: ByteAccount,
    /// Positions of columns of instants whose day was taken in UTC, no offset being declared.
    pub(crate) read_in_utc: Vec<usize>,
}

impl Door {
    /// Opens a file and reads its header.
    pub(crate) fn open(source: &Source<'_>, form: &Form) -> Result<Self, LoadError> {
        Ok(match source.format()? {
            Format::Delimited => Self::Delimited(Box::new(Delimited::open(source, form)?)),
            Format::Lines => Self::Lines(Box::new(Lines::open(source, form)?)),
            Format::Columns => Self::Columns(Box::new(Columns::open(source, form)?)),
        })
    }

    /// The header: one name a column.
    pub(crate) fn headers(&self) -> Vec<String> {
        match self {
            Self::Delimited(door) => door.headers.clone(),
            Self::Lines(door) => door.headers.clone(),
            Self::Columns(door) => door.headers.clone(),
        }
    }

    /// Which columns hold dates by the type they have in the file; columns beyond its end do not.
    pub(crate) fn is_date(&self) -> Vec<bool> {
        match self {
            Self::Delimited(_) | Self::Lines(_) => Vec::new(),
            Self::Columns(door) => door.is_date.clone(),
        }
    }

    /// Reads the next record; false at the end of the file.
    pub(crate) fn read(&mut self, record: &mut Record) -> Result<bool, LoadError> {
        match self {
            Self::Delimited(door) => door.read(record),
            Self::Lines(door) => door.read(record),
            Self::Columns(door) => door.read(record),
        }
    }

    /// Bytes of the stored file read so far.
    pub(crate) fn n_bytes_read(&self) -> u64 {
        match self {
            Self::Delimited(door) => door.n_bytes_read(),
            Self::Lines(door) => door.n_bytes_read(),
            Self::Columns(door) => door.n_bytes_read(),
        }
    }

    /// Ends the reading.
    pub(crate) fn close(self) -> Result<Closed, LoadError> {
        match self {
            Self::Delimited(door) => Ok(door.close()),
            Self::Lines(door) => Ok(door.close()),
            Self::Columns(door) => door.close(),
        }
    }
}
