//! One flat JSON object a line: a key is a column, a value a cell.

use super::super::error::LoadError;
use super::super::row::RowFault;
use super::source::{Format, Source, Text};
use super::{Closed, LONGEST_RECORD_BYTES, MOST_COLUMNS, Record};
use crate::layout::Form;
use outcomes::finding::ByteAccount;
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use serde_json::Value;
use std::collections::HashMap;
use std::fmt;
use std::io::{BufRead, BufReader, Read};

/// An open file of JSON lines. Its columns are the keys of all its objects, in the order of their first appearance, so the
/// file is read twice.
pub(crate) struct Lines {
    pub(crate) headers: Vec<String>,
    positions: HashMap<String, usize>,
    reader: LineReader,
    n_stored: u64,
    account: ByteAccount,
    /// Cells of the object being read, in the order of the header.
    values: Vec<Option<Value>>,
}

impl Lines {
    pub(super) fn open(source: &Source<'_>, form: &Form) -> Result<Self, LoadError> {
        let mut reader = LineReader::new(source.text(form)?, source.name);
        let mut headers = Vec::new();
        let mut positions = HashMap::new();
        while reader.read()? {
            // a line that is no object is told when it is read as a record
            let Ok(object) = serde_json::from_slice::<Object>(reader.content()) else {
                continue;
            };
            for (key, _) in object.entries {
                if !positions.contains_key(&key) {
                    positions.insert(key.clone(), headers.len());
                    headers.push(key);
                }
            }
            if headers.len() > MOST_COLUMNS {
                return Err(LoadError::TooMany {
                    file: source.name.to_owned(),
                    what: "columns",
                });
            }
        }
        Ok(Self {
            values: vec![None; headers.len()],
            headers,
            positions,
            n_stored: source.n_bytes(&source.file()?)?,
            reader: LineReader::new(source.text(form)?, source.name),
            account: ByteAccount::default(),
        })
    }

    pub(super) fn read(&mut self, record: &mut Record) -> Result<bool, LoadError> {
        record.cells.clear();
        record.typed.clear();
        record.n_bytes_of_last = 0;
        record.fault = None;
        record.n_lines = 1;
        loop {
            if !self.reader.read()? {
                return Ok(false);
            }
            record.n_bytes = self.reader.line.len() as u64;
            if !self.reader.content().is_empty() {
                break;
            }
            self.account.blank += record.n_bytes;
        }
        match serde_json::from_slice::<Object>(self.reader.content()) {
            Ok(object) => record.fault = self.fill(object, record),
            Err(_) => {
                let message = "the line is no JSON object, or not UTF-8";
                record.fault = Some(RowFault::new("unreadable-line", message));
            }
        }
        Ok(true)
    }

    fn fill(&mut self, object: Object, record: &mut Record) -> Option<RowFault> {
        self.values.iter_mut().for_each(|value| *value = None);
        for (key, value) in object.entries {
            let position = self.positions.get(&key).copied();
            let Some(place) = position.and_then(|position| self.values.get_mut(position)) else {
                continue;
            };
            if place.is_some() {
                let message = "the object has a key twice";
                return Some(RowFault::new("repeated-key", message).at(position));
            }
            if matches!(value, Value::Array(_) | Value::Object(_)) {
                let message = "a value is a list or an object, which a cell cannot hold";
                return Some(RowFault::new("nested-value", message).at(position));
            }
            *place = Some(value);
        }
        for value in &self.values {
            record
                .typed
                .push(matches!(value, Some(Value::Number(_) | Value::Bool(_))));
            match value {
                None | Some(Value::Null | Value::Array(_) | Value::Object(_)) => {
                    record.cells.push("")
                }
                Some(Value::String(text)) => record.cells.push(text),
                Some(Value::Bool(is_true)) => {
                    record.cells.push(if *is_true { "true" } else { "false" })
                }
                Some(Value::Number(number)) => record.cells.push(&number_text(number)),
            }
        }
        None
    }

    pub(super) fn n_bytes_read(&self) -> u64 {
        self.reader.n_bytes_read()
    }

    pub(super) fn close(self) -> Closed {
        self.reader.close(self.n_stored, self.account)
    }
}

/// The lines of a file as they are, blank ones too.
pub(crate) struct PlainLines {
    reader: LineReader,
    n_stored: u64,
}

impl PlainLines {
    /// Opens a file whose first line must begin like a JSON object.
    pub(crate) fn open(source: &Source<'_>, form: &Form) -> Result<Self, LoadError> {
        if source.format()? != Format::Lines {
            return Err(LoadError::NotJsonLines {
                file: source.name.to_owned(),
            });
        }
        Ok(Self {
            reader: LineReader::new(source.text(form)?, source.name),
            n_stored: source.n_bytes(&source.file()?)?,
        })
    }

    /// Reads the next line; false at the end.
    pub(crate) fn next_line(&mut self) -> Result<bool, LoadError> {
        self.reader.read()
    }

    /// The line without its line end and space around it.
    pub(crate) fn content(&self) -> &[u8] {
        self.reader.content()
    }

    /// Bytes of the line with its line end.
    pub(crate) fn n_line_bytes(&self) -> u64 {
        self.reader.line.len() as u64
    }

    /// Bytes of the stored file read so far.
    pub(crate) fn n_bytes_read(&self) -> u64 {
        self.reader.n_bytes_read()
    }

    /// Ends the reading.
    pub(crate) fn close(self) -> Closed {
        self.reader.close(self.n_stored, ByteAccount::default())
    }
}

/// A number without an exponent, whole numbers without a point.
fn number_text(number: &serde_json::Number) -> String {
    match (number.as_i64(), number.as_u64(), number.as_f64()) {
        (Some(whole), _, _) => whole.to_string(),
        (_, Some(whole), _) => whole.to_string(),
        (_, _, Some(real)) => real.to_string(),
        _ => number.to_string(),
    }
}

/// Lines of a text, each at most as long as a record may be.
pub(crate) struct LineReader {
    text: BufReader<Text>,
    /// The line with its line end.
    line: Vec<u8>,
    n_lines: u64,
    name: String,
}

impl LineReader {
    pub(super) fn new(text: Text, name: &str) -> Self {
        Self {
            text: BufReader::with_capacity(1 << 17, text),
            line: Vec::new(),
            n_lines: 0,
            name: name.to_owned(),
        }
    }

    /// Bytes of the stored file read so far.
    fn n_bytes_read(&self) -> u64 {
        self.text.get_ref().stored().n_bytes()
    }

    /// Ends the reading of a file of so many bytes.
    fn close(self, n_stored: u64, bytes: ByteAccount) -> Closed {
        let text = self.text.into_inner();
        let n_text_bytes = text.n_text_bytes();
        let tally = text.into_stored();
        Closed {
            n_text_bytes,
            n_bytes: n_stored.max(tally.n_bytes()),
            sha256: tally.sha256(),
            bytes,
            read_in_utc: Vec::new(),
        }
    }

    /// Reads the next line; false at the end.
    pub(super) fn read(&mut self) -> Result<bool, LoadError> {
        self.line.clear();
        let n = (&mut self.text)
            .take(LONGEST_RECORD_BYTES)
            .read_until(b'\n', &mut self.line)
            .map_err(|error| LoadError::reading(&self.name, &error))?;
        self.n_lines += u64::from(n > 0);
        if n as u64 == LONGEST_RECORD_BYTES && !self.line.ends_with(b"\n") {
            return Err(LoadError::RecordTooLong {
                file: self.name.clone(),
                record: self.n_lines,
                most_mib: LONGEST_RECORD_BYTES >> 20,
            });
        }
        Ok(n > 0)
    }

    /// The line without its line end, a byte-order mark and space around it.
    pub(super) fn content(&self) -> &[u8] {
        let line = match self.n_lines {
            1 => self
                .line
                .strip_prefix(b"\xef\xbb\xbf")
                .unwrap_or(&self.line),
            _ => &self.line,
        };
        line.trim_ascii()
    }
}

/// A JSON object with its entries in the order written, a key twice where it is twice.
struct Object {
    entries: Vec<(String, Value)>,
}

impl<'de> Deserialize<'de> for Object {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries;
        impl<'de> Visitor<'de> for Entries {
            type Value = Object;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Object, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = map.next_entry()? {
                    entries.push(entry);
                }
                Ok(Object { entries })
            }
        }
        deserializer.deserialize_map(Entries)
    }
}
