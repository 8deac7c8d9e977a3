//! A file of columns: Apache Parquet.
//!
//! The footer is read with the `parquet` library. Pages are read here, value by value: what a page says of its own size is held
//! against bounds before anything is unpacked, a dictionary is written as text once, cells are taken some rows at a time, column by
//! column, and no damage can do more than stop
//! the reading, which the library's own readers of columns do not promise.
//!
//! Rows of such a file have no bytes of their own. What its byte account counts is the text of each cell as this program
//! reads it and one byte for its end, so that header and rows add up as in a delimited file; the size of the file and its
//! digest are those of the file as stored.

mod column;
mod compact;
mod fault;
mod footer;
mod input;
mod kind;
mod runs;
mod unpack;

pub(super) use footer::{ENCRYPTED_MARK, MARK};

use super::super::error::LoadError;
use super::super::file::Tally;
use super::super::row::RowFault;
use super::source::Source;
use super::{Closed, LONGEST_RECORD_BYTES, Record};
use crate::layout::Form;
use column::{Column, Held, Pushed};
use fault::Fault;
use footer::{Footer, Group};
use input::Input;
use kind::Kind;
use outcomes::finding::ByteAccount;
use std::io::{Seek as _, SeekFrom};
use std::time::SystemTime;

/// Rows whose cells are taken at one time.
const MOST_ROWS: usize = 256;

/// An open file of columns.
pub(crate) struct Columns {
    pub(crate) headers: Vec<String>,
    /// Which columns hold dates by their type.
    pub(crate) is_date: Vec<bool>,
    is_typed: Vec<bool>,
    kinds: Vec<Kind>,
    /// Groups of rows not yet begun, the next one last.
    groups: Vec<Group>,
    /// The group being read.
    columns: Vec<Column>,
    /// Rows of it not yet taken.
    n_left: u64,
    n_groups_begun: u64,
    /// Rows taken, the cells of each that hold something in order, and the first that has not been given out.
    rows: Vec<Vec<Held>>,
    n_rows: usize,
    next_row: usize,
    n_records: u64,
    input: Input,
    name: String,
    changed: Option<SystemTime>,
    n_header_bytes: u64,
    utc_offset_minutes: Option<i32>,
    has_instant: Vec<bool>,
}

impl Columns {
    pub(super) fn open(source: &Source<'_>, form: &Form) -> Result<Self, LoadError> {
        let file = source.file()?;
        let stored = file.metadata().map_err(|error| source.unreadable(&error))?;
        let mut input = Input::new(file, stored.len(), form.unpacking);
        let mut headers = Vec::new();
        let footer = footer::read(&mut input, &mut headers)
            .map_err(|fault| fault.of_file(source.name, &headers, 0))?;
        let Footer {
            headers,
            kinds,
            mut groups,
            n_rows,
        } = footer;
        let file = || source.name.to_owned();
        if headers.is_empty() {
            return Err(LoadError::Empty { file: file() });
        }
        if n_rows > u64::from(u32::MAX) {
            return Err(LoadError::TooMany {
                file: file(),
                what: "records",
            });
        }
        groups.reverse();
        let n_header_bytes = headers.iter().map(|header| header.len() as u64 + 1).sum();
        input.n_text = n_header_bytes;
        Ok(Self {
            is_date: kinds.iter().map(|kind| kind.is_date()).collect(),
            is_typed: kinds.iter().map(|kind| kind.is_typed()).collect(),
            has_instant: vec![false; kinds.len()],
            headers,
            kinds,
            groups,
            columns: Vec::new(),
            n_left: 0,
            n_groups_begun: 0,
            rows: Vec::new(),
            n_rows: 0,
            next_row: 0,
            n_records: 0,
            input,
            name: source.name.to_owned(),
            changed: stored.modified().ok(),
            n_header_bytes,
            utc_offset_minutes: form.utc_offset_minutes,
        })
    }

    pub(super) fn read(&mut self, record: &mut Record) -> Result<bool, LoadError> {
        self.next(record)
            .map_err(|fault| fault.of_file(&self.name, &self.headers, self.n_records + 1))
    }

    fn next(&mut self, record: &mut Record) -> Result<bool, Fault> {
        record.cells.clear();
        record.fault = None;
        record.n_bytes_of_last = 0;
        record.n_lines = 1;
        if self.next_row == self.n_rows && !self.take_rows()? {
            return Ok(false);
        }
        let row = self.rows.get(self.next_row).map_or(&[][..], Vec::as_slice);
        for held in row {
            let number = held.column as usize;
            let Some(column) = self.columns.get(number) else {
                continue;
            };
            record.cells.fill_to(number);
            let (text, pushed) = column.text(held.cell);
            let cells = &mut record.cells;
            cells.push_entry(text, held.cell.entry(), self.n_groups_begun);
            match pushed {
                Pushed::Cell => {}
                Pushed::Instant => {
                    if let Some(has_instant) = self.has_instant.get_mut(number) {
                        *has_instant = true;
                    }
                }
                Pushed::NotText => {
                    let message = "a cell of the record is no text in UTF-8, or no number";
                    record.fault = Some(RowFault::new("wrong-encoding", message).at(Some(number)));
                }
            }
            if record.cells.text().len() as u64 > LONGEST_RECORD_BYTES {
                return Err(Fault::RecordTooLong);
            }
        }
        record.cells.fill_to(self.columns.len());
        if record.typed.len() != self.is_typed.len() {
            record.typed.clone_from(&self.is_typed);
        }
        record.n_bytes = (record.cells.text().len() + record.cells.len()) as u64;
        self.input.give_out(record.n_bytes)?;
        self.next_row += 1;
        self.n_records += 1;
        Ok(true)
    }

    /// Takes the cells of the next rows, column by column: as many rows as no column needs another page for. False at the end.
    fn take_rows(&mut self) -> Result<bool, Fault> {
        while self.n_left == 0 {
            for column in self.columns.drain(..) {
                column.end(&mut self.input)?;
            }
            let Some(group) = self.groups.pop() else {
                return Ok(false);
            };
            self.n_left = group.n_rows;
            self.n_groups_begun += 1;
            let offset = self.utc_offset_minutes.unwrap_or(0);
            let columns = self.kinds.iter().zip(&group.columns).enumerate();
            self.columns = columns
                .map(|(number, (kind, place))| Column::new(*kind, number, place, offset))
                .collect();
        }
        let mut n = self.n_left.min(MOST_ROWS as u64);
        for column in &mut self.columns {
            n = n.min(column.n_ready(&mut self.input)?);
        }
        self.n_left -= n;
        self.n_rows = usize::try_from(n).unwrap_or(0);
        self.next_row = 0;
        if self.rows.len() < self.n_rows {
            self.rows.resize_with(self.n_rows, Vec::new);
        }
        let rows = self.rows.get_mut(..self.n_rows).unwrap_or_default();
        rows.iter_mut().for_each(Vec::clear);
        for column in &mut self.columns {
            column.take(rows)?;
        }
        Ok(true)
    }

    pub(super) const fn n_bytes_read(&self) -> u64 {
        self.input.n_packed
    }

    /// Positions of columns whose instants were given the day they have in UTC, because the layout declares no offset.
    pub(super) fn read_in_utc(&self) -> Vec<usize> {
        let is_undeclared = self.utc_offset_minutes.is_none();
        let positions = self.has_instant.iter().enumerate();
        positions
            .filter(|(_, has_instant)| **has_instant && is_undeclared)
            .map(|(position, _)| position)
            .collect()
    }

    /// Ends the reading with a digest of the whole file, which must still be the one that was opened.
    pub(super) fn close(mut self) -> Result<Closed, LoadError> {
        let unreadable = |error: std::io::Error| LoadError::Unreadable {
            file: self.name.clone(),
            reason: error.to_string(),
        };
        let stored = self.input.file.metadata().map_err(unreadable)?;
        if stored.len() != self.input.n_bytes || stored.modified().ok() != self.changed {
            return Err(LoadError::Changed { file: self.name });
        }
        self.input
            .file
            .seek(SeekFrom::Start(0))
            .map_err(unreadable)?;
        let mut tally = Tally::new(&self.input.file);
        std::io::copy(&mut tally, &mut std::io::sink()).map_err(unreadable)?;
        Ok(Closed {
            n_bytes: tally.n_bytes(),
            sha256: tally.sha256(),
            n_text_bytes: self.input.n_text,
            bytes: ByteAccount {
                header: self.n_header_bytes,
                ..ByteAccount::default()
            },
            read_in_utc: self.read_in_utc(),
        })
    }
}
