//! The end of a file of columns: what columns it has, of what types, and where the parts of each are.

use super::super::MOST_COLUMNS;
use super::column::Place;
use super::fault::Fault;
use super::input::Input;
use super::kind::Kind;
use super::unpack::Packing;
use parquet::file::metadata::{ColumnChunkMetaData, ParquetMetaData, ParquetMetaDataReader};

/// Both ends of such a file.
pub(in super::super) const MARK: &[u8] = b"PAR1";
/// Both ends of one that is encrypted.
pub(in super::super) const ENCRYPTED_MARK: &[u8] = b"PARE";

/// Bytes of the longest footer: some thousand groups of rows of a wide export.
const MOST_FOOTER_BYTES: u64 = 64 << 20;

/// What a file says of itself.
pub(super) struct Footer {
    /// Column names, each with what is read of it or why it is not.
    pub(super) headers: Vec<String>,
    pub(super) kinds: Vec<Kind>,
    pub(super) groups: Vec<Group>,
    pub(super) n_rows: u64,
}

/// A group of rows: a part of every column.
pub(super) struct Group {
    pub(super) n_rows: u64,
    pub(super) columns: Vec<Place>,
}

/// Reads the footer and holds what it says against the size of the file. Where a column is refused, `headers` has been filled.
pub(super) fn read(input: &mut Input, headers: &mut Vec<String>) -> Result<Footer, Fault> {
    let (metadata, end) = metadata(input)?;
    let schema = metadata.file_metadata().schema_descr();
    if schema.num_columns() > MOST_COLUMNS {
        return Err(Fault::TooFar(format!(
            "it has more than {MOST_COLUMNS} columns"
        )));
    }
    let name = |parts: &[String]| parts.first().map_or("", String::as_str).trim().to_owned();
    *headers = schema
        .columns()
        .iter()
        .map(|column| name(column.path().parts()))
        .collect();
    let kinds = (schema.columns().iter().enumerate())
        .map(|(place, column)| Kind::of(column, place))
        .collect::<Result<Vec<_>, _>>()?;
    let mut groups = Vec::with_capacity(metadata.num_row_groups());
    let mut n_rows = 0_u64;
    for group in metadata.row_groups() {
        let n = u64::try_from(group.num_rows()).map_err(|_| counts())?;
        n_rows = n_rows.checked_add(n).ok_or_else(counts)?;
        if group.columns().len() != kinds.len() {
            return Err(counts());
        }
        let columns = (group.columns().iter().enumerate())
            .map(|(place, column)| place_of(column, place, n, end))
            .collect::<Result<_, _>>()?;
        groups.push(Group { n_rows: n, columns });
    }
    if u64::try_from(metadata.file_metadata().num_rows()) != Ok(n_rows) {
        return Err(counts());
    }
    Ok(Footer {
        headers: headers.clone(),
        kinds,
        groups,
        n_rows,
    })
}

const fn counts() -> Fault {
    Fault::Damaged("its counts of rows and columns contradict each other")
}

/// What the footer holds, and where the pages must end.
fn metadata(input: &mut Input) -> Result<(ParquetMetaData, u64), Fault> {
    let cut_short = Fault::Damaged("its end is missing; it may have been cut short");
    let n_marks = 2 * MARK.len() as u64 + 4;
    if input.n_bytes < n_marks {
        return Err(cut_short);
    }
    let mut bytes = Vec::new();
    let length_at = input.n_bytes - 8;
    input.read(length_at..input.n_bytes, &mut bytes)?;
    let Some((length, MARK)) = bytes.split_first_chunk::<4>() else {
        return Err(cut_short);
    };
    let length = u64::from(u32::from_le_bytes(*length));
    let start = length_at
        .checked_sub(length)
        .filter(|start| *start >= MARK.len() as u64)
        .ok_or(Fault::Damaged("its footer is longer than the file"))?;
    if length > MOST_FOOTER_BYTES {
        return Err(Fault::TooFar(format!(
            "its footer is longer than {} MiB",
            MOST_FOOTER_BYTES >> 20
        )));
    }
    input.read(start..length_at, &mut bytes)?;
    let unreadable = Fault::Damaged("its footer cannot be read");
    let metadata = ParquetMetaDataReader::decode_metadata(&bytes).map_err(|_| unreadable)?;
    Ok((metadata, start))
}

fn place_of(
    column: &ColumnChunkMetaData,
    place: usize,
    n_rows: u64,
    end: u64,
) -> Result<Place, Fault> {
    if column.file_path().is_some() {
        return Err(Fault::Column {
            place,
            why: "is stored in another file",
            hint: "export into files that stand alone",
        });
    }
    if u64::try_from(column.num_values()) != Ok(n_rows) {
        return Err(counts());
    }
    // a dictionary comes first where there is one; some writers put a zero where there is none
    let first = match column.dictionary_page_offset() {
        Some(dictionary) if dictionary > 0 => dictionary.min(column.data_page_offset()),
        _ => column.data_page_offset(),
    };
    let beyond = Fault::Damaged("a column lies beyond its end");
    let first = u64::try_from(first).map_err(|_| beyond.clone())?;
    let last = u64::try_from(column.compressed_size())
        .ok()
        .and_then(|n| first.checked_add(n))
        .filter(|last| *last <= end)
        .ok_or(beyond)?;
    Ok(Place {
        bytes: first..last,
        packing: Packing::of(column.compression(), place)?,
    })
}
