//! One column of one group of rows: its pages, one at a time, and the values in them.

use super::compact::PageHeader;
use super::fault::Fault;
use super::input::Input;
use super::kind::{Kind, Meaning, Stored, Value, write};
use super::runs::Runs;
use super::unpack::Packing;
use std::ops::Range;

/// Where a column of a group of rows is.
#[derive(Debug, Clone)]
pub(super) struct Place {
    pub(super) bytes: Range<u64>,
    pub(super) packing: Packing,
}

/// What came of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pushed {
    Cell,
    /// An instant that is not at midnight.
    Instant,
    /// Bytes that are no text, or no number.
    NotText,
}

/// A column being read.
pub(super) struct Column {
    kind: Kind,
    /// Its place among the columns, for messages.
    number: usize,
    packing: Packing,
    /// Bytes not yet read.
    bytes: Range<u64>,
    dictionary: Option<Dictionary>,
    page: Vec<u8>,
    stored: Vec<u8>,
    /// Whether each value is there, where one may be missing.
    levels: Option<Runs>,
    values: Values,
    /// Values of the page, missing ones too, that have not been read.
    n_left: u64,
    /// Texts of cells that are no text in the page.
    written: String,
    utc_offset_minutes: i32,
}

/// A cell that holds something, and its column. Small, because there is one for every such cell of some rows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Held {
    pub(super) column: u32,
    pub(super) cell: CellText,
}

/// Where the text of a cell is.
#[derive(Debug, Clone, Copy)]
pub(super) enum CellText {
    /// In the dictionary.
    Entry(u32),
    /// In the page as it was read.
    Page { start: u32, end: u32 },
    /// Written for these rows.
    Written {
        start: u32,
        end: u32,
        pushed: Pushed,
    },
}

impl CellText {
    /// The entry of the dictionary, where it is there.
    pub(super) const fn entry(self) -> Option<u32> {
        match self {
            Self::Entry(number) => Some(number),
            Self::Page { .. } | Self::Written { .. } => None,
        }
    }
}

/// Where the values of a page are.
enum Values {
    /// Numbers of entries of the dictionary.
    Entries(Runs),
    /// One after another from here on.
    Plain(usize),
    /// Single bits from here on, counted from the start of the page.
    Bits(u64),
    /// Yes and no in runs.
    Runs(Runs),
}

/// Texts that are written once for a column.
#[derive(Default)]
struct Dictionary {
    text: String,
    entries: Vec<Entry>,
}

#[derive(Clone)]
struct Entry {
    text: Range<usize>,
    pushed: Pushed,
}

const DATA: i64 = 0;
const INDEX: i64 = 1;
const DICTIONARY: i64 = 2;
const DATA_2: i64 = 3;

const PLAIN: i64 = 0;
const PLAIN_DICTIONARY: i64 = 2;
const RUNS: i64 = 3;
const RUNS_DICTIONARY: i64 = 8;

const ENDS_EARLY: Fault = Fault::Damaged("a column ends before its rows do");

impl Column {
    pub(super) fn new(kind: Kind, number: usize, place: &Place, utc_offset_minutes: i32) -> Self {
        Self {
            kind,
            number,
            packing: place.packing,
            bytes: place.bytes.clone(),
            dictionary: None,
            page: Vec::new(),
            stored: Vec::new(),
            levels: None,
            values: Values::Plain(0),
            n_left: 0,
            written: String::new(),
            utc_offset_minutes,
        }
    }

    /// How many cells can be taken without another page; reads one where there are none.
    pub(super) fn n_ready(&mut self, input: &mut Input) -> Result<u64, Fault> {
        while self.n_left == 0 {
            self.next_page(input)?;
        }
        Ok(self.n_left)
    }

    /// Takes a cell for each row, no more than are ready, and adds those that hold something to the rows. Texts of cells taken
    /// before are forgotten.
    pub(super) fn take(&mut self, rows: &mut [Vec<Held>]) -> Result<(), Fault> {
        self.n_left = self
            .n_left
            .checked_sub(rows.len() as u64)
            .ok_or(ENDS_EARLY)?;
        self.written.clear();
        let column = place(self.number)?;
        let mut n_done = 0;
        while n_done < rows.len() {
            let n_more = rows.len() - n_done;
            let (is_there, n) = match &mut self.levels {
                None => (true, n_more),
                Some(levels) => {
                    let (level, n) = levels.next_run(&self.page, n_more).ok_or(ENDS_EARLY)?;
                    (level != 0, n)
                }
            };
            if is_there {
                for row in rows.iter_mut().skip(n_done).take(n) {
                    let cell = self.next_cell()?;
                    row.push(Held { column, cell });
                }
            }
            n_done += n;
        }
        Ok(())
    }

    #[inline]
    fn next_cell(&mut self) -> Result<CellText, Fault> {
        if let (Values::Entries(entries), Some(dictionary)) = (&mut self.values, &self.dictionary) {
            let number = entries.next(&self.page).ok_or(ENDS_EARLY)?;
            if number as usize >= dictionary.entries.len() {
                return Err(Fault::Damaged("a value is not in its column's dictionary"));
            }
            return Ok(CellText::Entry(number));
        }
        let value = value(&self.page, &mut self.values, self.kind.stored).ok_or(ENDS_EARLY)?;
        if let (Value::Bytes(bytes), Meaning::Text, Values::Plain(end)) =
            (value, self.kind.meaning, &self.values)
        {
            return Ok(CellText::Page {
                start: place(*end - bytes.len())?,
                end: place(*end)?,
            });
        }
        let start = self.written.len();
        let pushed = written(value, self.kind, self.utc_offset_minutes, &mut self.written);
        Ok(CellText::Written {
            start: place(start)?,
            end: place(self.written.len())?,
            pushed,
        })
    }

    /// The text of a cell that was taken last.
    #[inline]
    pub(super) fn text(&self, cell: CellText) -> (&str, Pushed) {
        match cell {
            CellText::Entry(number) => {
                let dictionary = self.dictionary.as_ref();
                let entry = dictionary.and_then(|known| known.entries.get(number as usize));
                let text = dictionary
                    .zip(entry)
                    .and_then(|(known, entry)| known.text.get(entry.text.clone()));
                (
                    text.unwrap_or_default(),
                    entry.map_or(Pushed::Cell, |entry| entry.pushed),
                )
            }
            CellText::Page { start, end } => {
                let bytes = self.page.get(start as usize..end as usize);
                match std::str::from_utf8(bytes.unwrap_or_default()) {
                    Ok(text) => (text, Pushed::Cell),
                    Err(_) => ("", Pushed::NotText),
                }
            }
            CellText::Written { start, end, pushed } => {
                let text = self.written.get(start as usize..end as usize);
                (text.unwrap_or_default(), pushed)
            }
        }
    }

    /// Ends the reading of the column when its last row has been read.
    pub(super) fn end(self, input: &mut Input) -> Result<(), Fault> {
        input.hold(self.n_held(), 0)?;
        if self.n_left == 0 {
            return Ok(());
        }
        Err(Fault::Damaged("a column goes on after its rows"))
    }

    fn n_held(&self) -> usize {
        let of_dictionary = |dictionary: &Dictionary| {
            dictionary.text.len() + dictionary.entries.len() * size_of::<Entry>()
        };
        self.page.len() + self.dictionary.as_ref().map_or(0, of_dictionary)
    }

    /// Reads pages up to one of values.
    #[cold]
    fn next_page(&mut self, input: &mut Input) -> Result<(), Fault> {
        if self.bytes.is_empty() {
            return Err(ENDS_EARLY);
        }
        let n_before = self.n_held();
        let header = input.header(&self.bytes, &mut self.stored)?;
        let start = self.bytes.start + header.n_bytes as u64;
        let end = start + header.n_packed.cast_unsigned();
        self.bytes.start = end;
        if header.kind == INDEX {
            return Ok(());
        }
        input.read(start..end, &mut self.stored)?;
        if header
            .checksum
            .is_some_and(|sum| sum & 0xffff_ffff != checksum(&self.stored))
        {
            return Err(Fault::Damaged("a page is not what its checksum says"));
        }
        input.take_in(
            header.n_bytes as u64 + self.stored.len() as u64,
            header.n_unpacked.cast_unsigned(),
        )?;
        self.unpack(&header)?;
        match header.kind {
            DICTIONARY => self.read_dictionary(&header)?,
            DATA | DATA_2 => self.begin_values(&header)?,
            _ => return Err(Fault::Damaged("a page is of no known kind")),
        }
        input.hold(n_before, self.n_held())
    }

    /// Makes the page of what is stored. The levels of a page of the second version are never packed.
    fn unpack(&mut self, header: &PageHeader) -> Result<(), Fault> {
        let damaged = || Fault::Damaged("the levels of a page are longer than it");
        let n_levels = match header.kind {
            DATA_2 if header.n_repeat_bytes != 0 => return Err(damaged()),
            DATA_2 => usize::try_from(header.n_level_bytes).map_err(|_| damaged())?,
            _ => 0,
        };
        let (levels, rest) = self.stored.split_at_checked(n_levels).ok_or_else(damaged)?;
        let n_unpacked = usize::try_from(header.n_unpacked).map_err(|_| damaged())?;
        let n_rest = n_unpacked.checked_sub(n_levels).ok_or_else(damaged)?;
        self.page.clear();
        self.page.extend_from_slice(levels);
        let packing = match header.kind {
            DATA_2 if !header.is_packed => Packing::Plain,
            _ => self.packing,
        };
        packing.unpack(rest, n_rest, &mut self.page)
    }

    /// Writes every entry of the dictionary once.
    fn read_dictionary(&mut self, header: &PageHeader) -> Result<(), Fault> {
        if self.dictionary.is_some() || ![PLAIN, PLAIN_DICTIONARY].contains(&header.encoding) {
            return Err(Fault::Damaged(
                "a column has two dictionaries, or one of no known form",
            ));
        }
        let damaged = Fault::Damaged("a dictionary ends before its entries do");
        let mut dictionary = Dictionary::default();
        let mut values = Values::Plain(0);
        for _ in 0..header.n_values {
            let value = value(&self.page, &mut values, self.kind.stored).ok_or(damaged.clone())?;
            let start = dictionary.text.len();
            let pushed = written(
                value,
                self.kind,
                self.utc_offset_minutes,
                &mut dictionary.text,
            );
            dictionary.entries.push(Entry {
                text: start..dictionary.text.len(),
                pushed,
            });
        }
        self.page.clear();
        self.dictionary = Some(dictionary);
        Ok(())
    }

    fn begin_values(&mut self, header: &PageHeader) -> Result<(), Fault> {
        let levels = || Fault::Damaged("the levels of a page cannot be read");
        self.n_left = u64::try_from(header.n_values).map_err(|_| levels())?;
        let (start, after_levels) = match (header.kind, self.kind.is_optional) {
            (DATA_2, _) => {
                let n = usize::try_from(header.n_level_bytes).map_err(|_| levels())?;
                (0, n)
            }
            (_, false) => (0, 0),
            (_, true) if header.level_encoding != RUNS => return Err(levels()),
            (_, true) => {
                let n = length(&self.page, 0).ok_or_else(levels)?;
                (4, n.checked_add(4).ok_or_else(levels)?)
            }
        };
        if after_levels > self.page.len() {
            return Err(levels());
        }
        self.levels = match self.kind.is_optional {
            true => Some(Runs::new(1, start, after_levels).ok_or_else(levels)?),
            false => None,
        };
        self.values = self.values_at(after_levels, header.encoding)?;
        Ok(())
    }

    fn values_at(&self, at: usize, encoding: i64) -> Result<Values, Fault> {
        let damaged = || Fault::Damaged("the values of a page cannot be read");
        let end = self.page.len();
        Ok(match (encoding, self.kind.stored) {
            (PLAIN_DICTIONARY | RUNS_DICTIONARY, _) => {
                if self.dictionary.is_none() {
                    return Err(Fault::Damaged("a column lacks its dictionary"));
                }
                // a page of missing cells only may end here
                let (n_bits, at) = match self.page.get(at) {
                    Some(n_bits) => (u32::from(*n_bits), at + 1),
                    None => (0, at),
                };
                Values::Entries(Runs::new(n_bits, at, end).ok_or_else(damaged)?)
            }
            (PLAIN, Stored::Bit) => Values::Bits(at as u64 * 8),
            (PLAIN, _) => Values::Plain(at),
            (RUNS, Stored::Bit) => {
                let at = at.checked_add(4).ok_or_else(damaged)?.min(end);
                Values::Runs(Runs::new(1, at, end).ok_or_else(damaged)?)
            }
            _ => {
                return Err(Fault::Column {
                    place: self.number,
                    why: "is written in an encoding that this program does not read",
                    hint: "export with plain or dictionary encoding",
                });
            }
        })
    }
}

/// Writes a value and says what it is.
fn written(value: Value<'_>, kind: Kind, utc_offset_minutes: i32, out: &mut String) -> Pushed {
    match write(value, kind.meaning, utc_offset_minutes, out) {
        Ok(false) => Pushed::Cell,
        Ok(true) => Pushed::Instant,
        Err(_) => Pushed::NotText,
    }
}

/// A place in a page, which is shorter than 2 GiB, or a column's number.
fn place(at: usize) -> Result<u32, Fault> {
    u32::try_from(at).map_err(|_| Fault::Damaged("a page is longer than a page can be"))
}

/// Four bytes, least first, as a length.
fn length(page: &[u8], at: usize) -> Option<usize> {
    usize::try_from(u32::from_le_bytes(fixed(page, at)?)).ok()
}

fn fixed<const N: usize>(page: &[u8], at: usize) -> Option<[u8; N]> {
    page.get(at..at.checked_add(N)?)?.try_into().ok()
}

/// The next stored value; `None` at the end of the page.
#[inline]
fn value<'p>(page: &'p [u8], values: &mut Values, stored: Stored) -> Option<Value<'p>> {
    let at = match values {
        Values::Plain(at) => at,
        Values::Bits(bit) => {
            let byte = page.get(usize::try_from(*bit / 8).ok()?)?;
            let is_yes = byte >> (*bit % 8) & 1 == 1;
            *bit += 1;
            return Some(Value::Bit(is_yes));
        }
        Values::Runs(runs) => return runs.next(page).map(|bit| Value::Bit(bit == 1)),
        Values::Entries(_) => return None,
    };
    let (value, n) = match stored {
        Stored::I32 => (Value::I32(i32::from_le_bytes(fixed(page, *at)?)), 4),
        Stored::I64 => (Value::I64(i64::from_le_bytes(fixed(page, *at)?)), 8),
        Stored::F32 => (Value::F32(f32::from_le_bytes(fixed(page, *at)?)), 4),
        Stored::F64 => (Value::F64(f64::from_le_bytes(fixed(page, *at)?)), 8),
        Stored::I96 => {
            let nanos = i64::from_le_bytes(fixed(page, *at)?);
            let day = u32::from_le_bytes(fixed(page, at.checked_add(8)?)?);
            (Value::I96(nanos, day), 12)
        }
        Stored::Bytes => {
            let n = length(page, *at)?;
            let start = at.checked_add(4)?;
            let bytes = page.get(start..start.checked_add(n)?)?;
            (Value::Bytes(bytes), n + 4)
        }
        Stored::Fixed(n) => (Value::Bytes(page.get(*at..at.checked_add(n)?)?), n),
        // yes and no have no dictionary
        Stored::Bit => return None,
    };
    *at += n;
    Some(value)
}

/// CRC-32 of the stored page: `Checksumming` of the format's README.
fn checksum(stored: &[u8]) -> i64 {
    let mut sum = flate2::Crc::new();
    sum.update(stored);
    i64::from(sum.sum())
}
