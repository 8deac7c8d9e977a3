//! The doors of a file: whatever its format, it becomes a header and records of text cells, one by one.

mod columns;
mod delimited;
mod lines;
mod packed;
mod source;

pub(crate) use lines::PlainLines;
pub(crate) use packed::Unpacking;
pub(crate) use source::Source;

use super::error::LoadError;
use super::row::RowFault;
use crate::layout::Form;
use columns::Columns;
use csv::StringRecord;
use delimited::Delimited;
use lines::Lines;
use outcomes::finding::ByteAccount;
use source::Format;

/// Bytes of the longest record that is read. A longer one is a file that is not what it seems; nobody types so much.
pub(crate) const LONGEST_RECORD_BYTES: u64 = 16 << 20;

/// More columns than any export has.
pub(crate) const MOST_COLUMNS: usize = 10_000;

/// One record of a file. Its memory is used again for the next.
#[derive(Debug, Default)]
pub(crate) struct Record {
    /// Cells in the order of the header.
    pub(crate) cells: StringRecord,
    /// Which cells came with a type of their own, and are therefore written our way whatever the layout declares: ISO
    /// dates, decimal points, `true` and `false`. Cells beyond its end have none.
    pub(crate) typed: Vec<bool>,
    /// Lines of the file it spans; 1 where the format has no lines.
    pub(crate) n_lines: u64,
    /// Bytes of the unpacked text it takes, its line end included, blank lines before it not. Where a format has no text, the
    /// text of its cells with one byte for the end of each.
    pub(crate) n_bytes: u64,
    /// Bytes read with it that end the line before it: the second half of a line end of two bytes.
    pub(crate) n_bytes_of_last: u64,
    /// Why it cannot be read; then its cells mean nothing.
    pub(crate) fault: Option<RowFault>,
}

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
