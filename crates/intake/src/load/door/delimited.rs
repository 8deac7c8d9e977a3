//! Delimited text: quoted cells, line breaks in them, and any number of blank lines.

use super::super::error::LoadError;
use super::super::file::decode;
use super::super::row::RowFault;
use super::source::{Source, Text};
use super::{Cells, Closed, LONGEST_RECORD_BYTES, Record};
use crate::layout::{Encoding, Form};
use csv::ByteRecord;
use outcomes::finding::ByteAccount;
use std::io::Read;

/// An open file of delimited text.
pub(crate) struct Delimited {
    pub(crate) headers: Vec<String>,
    records: csv::Reader<Metered>,
    bytes: ByteRecord,
    encoding: Encoding,
    name: String,
    n_stored: u64,
    account: ByteAccount,
    n_records: u64,
    /// The first record, read ahead of its turn.
    ahead: Option<Extent>,
}

impl Delimited {
    pub(super) fn open(source: &Source<'_>, form: &Form) -> Result<Self, LoadError> {
        let text = source.text(form)?;
        let mut door = Self {
            headers: Vec::new(),
            n_stored: source.n_bytes(&source.file()?)?,
            records: csv::ReaderBuilder::new()
                .has_headers(false)
                .flexible(true)
                .delimiter(form.delimiter)
                .buffer_capacity(1 << 17)
                .from_reader(Metered::new(text)),
            bytes: ByteRecord::new(),
            encoding: form.encoding,
            name: source.name.to_owned(),
            account: ByteAccount::default(),
            n_records: 0,
            ahead: None,
        };
        // lines above the header are part of it; blank ones among them are no lines
        for _ in 0..form.title_lines {
            let title = door.next()?;
            door.account.header += title.n_bytes + title.n_tail;
        }
        let extent = door.next()?;
        door.account.header += extent.n_bytes + extent.n_tail;
        let mut header = Cells::default();
        decode(&door.bytes, form.encoding, &mut header).map_err(|_| LoadError::NotText {
            file: door.name.clone(),
            looks_like: "text in another encoding than the layout declares",
            hint: "declare encoding = \"windows-1252\" under [file] if the export uses it, or save it again as UTF-8",
        })?;
        door.headers = header
            .iter()
            .map(|header| header.trim_start_matches('\u{feff}').trim().to_owned())
            .collect();
        if door.headers.iter().all(String::is_empty) {
            return Err(LoadError::Empty { file: door.name });
        }
        let first = door.next_timed()?;
        // a delimiter at the end of every row and none at the end of the header: rows that end otherwise are findings
        if door.bytes.len() == door.headers.len() + 1
            && door.bytes.iter().next_back().is_some_and(<[u8]>::is_empty)
        {
            door.headers.push(String::new());
        }
        door.ahead = Some(first);
        Ok(door)
    }

    /// Reads the bytes of a record, and over how many lines it goes.
    fn next_timed(&mut self) -> Result<Extent, LoadError> {
        let line = self.records.position().line();
        let extent = self.next()?;
        Ok(Extent {
            n_lines: self.records.position().line().saturating_sub(line),
            ..extent
        })
    }

    /// Reads the bytes of a record.
    fn next(&mut self) -> Result<Extent, LoadError> {
        let start = self.records.position().byte();
        self.records.get_mut().n_since_record = 0;
        let is_there = match self.records.read_byte_record(&mut self.bytes) {
            Ok(is_there) => is_there,
            Err(_) if self.records.get_ref().is_too_long => {
                return Err(LoadError::RecordTooLong {
                    file: self.name.clone(),
                    record: self.n_records + 1,
                    most_mib: LONGEST_RECORD_BYTES >> 20,
                });
            }
            Err(error) => {
                return Err(match error.kind() {
                    csv::ErrorKind::Io(error) => LoadError::reading(&self.name, error),
                    _ => LoadError::Unreadable {
                        file: self.name.clone(),
                        reason: error.to_string(),
                    },
                });
            }
        };
        let end = self.records.position().byte();
        let between = self.records.get_mut().lines.between(start, end);
        self.account.blank += between.n_blank;
        Ok(Extent {
            is_there,
            n_tail: between.n_tail,
            n_bytes: end - start - between.n_tail - between.n_blank,
            n_lines: 1,
        })
    }

    pub(super) fn read(&mut self, record: &mut Record) -> Result<bool, LoadError> {
        let extent = match self.ahead.take() {
            Some(first) => first,
            None => self.next_timed()?,
        };
        record.n_bytes_of_last = extent.n_tail;
        if !extent.is_there {
            return Ok(false);
        }
        self.n_records += 1;
        record.n_bytes = extent.n_bytes;
        record.n_lines = extent.n_lines;
        record.fault = None;
        if decode(&self.bytes, self.encoding, &mut record.cells).is_err() {
            record.cells.clear();
            let message = "the record is not text in the encoding the layout declares";
            record.fault = Some(RowFault::new("wrong-encoding", message).with_hint(
                "declare encoding = \"windows-1252\" under [file] if the export uses it",
            ));
        }
        Ok(true)
    }

    pub(super) fn n_bytes_read(&self) -> u64 {
        self.records.get_ref().text.stored().n_bytes()
    }

    pub(super) fn close(self) -> Closed {
        let text = self.records.into_inner().text;
        let n_text_bytes = text.n_text_bytes();
        let tally = text.into_stored();
        Closed {
            n_text_bytes,
            n_bytes: self.n_stored.max(tally.n_bytes()),
            sha256: tally.sha256(),
            bytes: self.account,
            read_in_utc: Vec::new(),
        }
    }
}

/// A record as bytes.
struct Extent {
    is_there: bool,
    /// Bytes that end the line before it.
    n_tail: u64,
    /// Its own bytes, blank lines before it not counted.
    n_bytes: u64,
    n_lines: u64,
}

/// What passes on the way to the records: blank lines are noted, and a record without end is stopped.
struct Metered {
    text: Text,
    lines: BlankLines,
    n_since_record: u64,
    is_too_long: bool,
}

impl Metered {
    fn new(text: Text) -> Self {
        Self {
            text,
            lines: BlankLines::default(),
            n_since_record: 0,
            is_too_long: false,
        }
    }
}

impl Read for Metered {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if self.n_since_record > LONGEST_RECORD_BYTES {
            self.is_too_long = true;
            return Err(std::io::Error::other("a record is too long"));
        }
        let n = self.text.read(buffer)?;
        self.lines.pass(buffer.get(..n).unwrap_or_default());
        self.n_since_record += n as u64;
        Ok(n)
    }
}

/// Where line ends follow line ends: runs of blank lines, of which those before a record belong to none.
#[derive(Default)]
struct BlankLines {
    runs: std::collections::VecDeque<Run>,
    n_passed: u64,
    last: Option<u8>,
}

struct Run {
    start: u64,
    end: u64,
    /// Whether its first byte is the second half of the line end before it.
    has_tail: bool,
}

/// What lies between two records.
#[derive(Default)]
struct Between {
    /// Bytes that end the line before.
    n_tail: u64,
    /// Bytes of blank lines.
    n_blank: u64,
}

impl BlankLines {
    fn pass(&mut self, bytes: &[u8]) {
        for (position, byte) in (self.n_passed..).zip(bytes) {
            let was_end = self.last.is_none_or(|last| matches!(last, b'\n' | b'\r'));
            if was_end && matches!(byte, b'\n' | b'\r') {
                match self.runs.back_mut() {
                    Some(run) if run.end == position => run.end += 1,
                    _ => self.runs.push_back(Run {
                        start: position,
                        end: position + 1,
                        has_tail: self.last == Some(b'\r') && *byte == b'\n',
                    }),
                }
            }
            self.last = Some(*byte);
        }
        self.n_passed += bytes.len() as u64;
    }

    /// What lies from `start`, and before `end`, ahead of a record; runs before `end` are forgotten.
    fn between(&mut self, start: u64, end: u64) -> Between {
        let mut between = Between::default();
        while let Some(run) = self.runs.front() {
            if run.start >= end {
                break;
            }
            if run.start <= start && run.end > start {
                between.n_tail = u64::from(run.has_tail && run.start == start);
                between.n_blank = run.end.min(end) - start - between.n_tail;
            }
            if run.end > end {
                break;
            }
            self.runs.pop_front();
        }
        between
    }
}
