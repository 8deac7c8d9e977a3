//! The first rows of a file, read without knowing its layout.

use crate::layout::{DecimalMark, Encoding, Form};
use crate::load::door::{Cells, Door, Record, Source};
use crate::load::{LoadError, Unpacking};
use std::path::Path;

/// More rows say little more.
const MOST_ROWS: usize = 20_000;
/// More text is not kept.
const MOST_BYTES: u64 = 64 << 20;

/// More lines above a header are no title.
const MOST_TITLE_LINES: u8 = 10;

const DELIMITERS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// What is known of a file from its first rows.
pub(super) struct Sampled {
    pub(super) name: String,
    pub(super) headers: Vec<String>,
    pub(super) rows: Vec<Cells>,
    pub(super) delimiter: u8,
    pub(super) encoding: Encoding,
    /// Whether every row was read.
    pub(super) is_whole: bool,
    /// Lines above the header.
    pub(super) title_lines: u8,
    /// Rows that have another number of cells than the header, or are no text.
    pub(super) n_odd: u64,
}

/// Reads the first rows.
pub(super) fn sample(name: &str, path: &Path) -> Result<Sampled, LoadError> {
    let source = Source { path, name };
    let mut best: Option<Sampled> = None;
    for encoding in [Encoding::Utf8, Encoding::Windows1252] {
        for delimiter in DELIMITERS {
            let sampled = match below_titles(&source, encoding, delimiter) {
                Ok(sampled) => sampled,
                Err(LoadError::NotText { .. }) if encoding == Encoding::Utf8 => continue,
                Err(error) => return Err(error),
            };
            let is_better = best
                .as_ref()
                .is_none_or(|best| fitness(&sampled) > fitness(best));
            if is_better {
                best = Some(sampled);
            }
        }
        // another encoding is tried only where this one left rows unread
        if best.as_ref().is_some_and(|best| best.n_odd == 0) {
            break;
        }
    }
    let (encoding, delimiter, title_lines) = best.map_or((Encoding::Utf8, b',', 0), |best| {
        (best.encoding, best.delimiter, best.title_lines)
    });
    let read = |encoding| read(&source, encoding, delimiter, title_lines, MOST_ROWS);
    let whole = read(encoding)?;
    if encoding == Encoding::Utf8 && whole.n_odd > 0 {
        // letters outside ASCII may come late
        let other = read(Encoding::Windows1252)?;
        if other.n_odd < whole.n_odd {
            return Ok(other);
        }
    }
    Ok(whole)
}

/// Most rows of the header's width, then most columns.
fn fitness(sampled: &Sampled) -> (bool, usize, usize) {
    let n_good = sampled.rows.len();
    (
        n_good as u64 >= sampled.n_odd,
        sampled.headers.len().min(2),
        n_good * sampled.headers.len(),
    )
}

/// Some rows below the header, which may stand below lines that are no part of the table: a title, a period, a hint to a
/// spreadsheet.
fn below_titles(
    source: &Source<'_>,
    encoding: Encoding,
    delimiter: u8,
) -> Result<Sampled, LoadError> {
    const SOME_ROWS: usize = 200;
    let first = read(source, encoding, delimiter, 0, SOME_ROWS)?;
    if is_table(&first) || first.rows.is_empty() && first.n_odd == 0 {
        return Ok(first);
    }
    for title_lines in 1..=MOST_TITLE_LINES {
        // a line without words cannot be a header
        let below = read(source, encoding, delimiter, title_lines, SOME_ROWS);
        if let Some(sampled) = below.ok().filter(is_table) {
            return Ok(sampled);
        }
    }
    Ok(first)
}

/// Whether the header names nearly all columns, of which there are several, and most rows are as wide.
fn is_table(sampled: &Sampled) -> bool {
    let n_columns = sampled.headers.len();
    let n_named = sampled
        .headers
        .iter()
        .filter(|header| !header.is_empty())
        .count();
    n_columns > 1
        && 10 * n_named >= 9 * n_columns
        && !sampled.rows.is_empty()
        && sampled.rows.len() as u64 >= sampled.n_odd
}

fn read(
    source: &Source<'_>,
    encoding: Encoding,
    delimiter: u8,
    title_lines: u8,
    most: usize,
) -> Result<Sampled, LoadError> {
    let form = Form {
        is_year_only: false,
        delimiter,
        encoding,
        title_lines,
        missing: Vec::new(),
        decimal: DecimalMark::Point,
        unpacking: Unpacking::default(),
        utc_offset_minutes: None,
    };
    let mut door = Door::open(source, &form)?;
    let headers = door.headers();
    let mut sampled = Sampled {
        name: source.name.to_owned(),
        rows: Vec::new(),
        delimiter,
        encoding,
        title_lines,
        is_whole: false,
        n_odd: 0,
        headers,
    };
    let mut record = Record::default();
    let mut n_bytes = 0;
    while sampled.rows.len() + sampled.n_odd as usize <= most && n_bytes < MOST_BYTES {
        if !door.read(&mut record)? {
            sampled.is_whole = true;
            break;
        }
        n_bytes += record.n_bytes;
        if record.fault.take().is_some() || record.cells.len() != sampled.headers.len() {
            sampled.n_odd += 1;
        } else {
            sampled.rows.push(record.cells.clone());
        }
    }
    Ok(sampled)
}

impl Sampled {
    /// The cells of some columns that hold something, trimmed.
    pub(super) fn cells<'s>(&'s self, columns: &'s [usize]) -> impl Iterator<Item = &'s str> {
        columns.iter().flat_map(move |column| {
            self.rows
                .iter()
                .filter_map(move |row| row.get(*column))
                .map(str::trim)
                .filter(|cell| !cell.is_empty())
        })
    }
}
