//! An export as Apache Parquet: the cells of a delimited text, column by column, as text or with types.

use chrono::NaiveDate;
use parquet::basic::{Compression, LogicalType, Repetition, Type as Stored};
use parquet::data_type::{
    BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int32Type, Int64Type,
};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;
use std::io::{self, Read, Write};
use std::sync::Arc;

/// Rows of a group.
const ROWS_A_GROUP: usize = 65_536;

/// Columns of the long export that hold dates, and those that hold numbers and have no unit in their names.
const DATES: &[&str] = &[
    "date",
    "recorded_date",
    "first_contact",
    "death_date",
    "last_contact",
    "planned_return",
    "onset",
];
const NUMBERS: &[&str] = &["abi", "tbi", "worn_size", "measured_size"];
const UNITS: &[&str] = &["_mmhg", "_cm", "_cm2", "_percent"];
const WHOLE_NUMBERS: &[&str] = &["diabetes_year"];
const ANSWERS: &[&str] = &[
    "renal_replacement",
    "prior_ulcer",
    "deformity",
    "charcot",
    "footwear_suitable",
    "is_after_debridement",
    "probe_to_bone",
    "osteomyelitis",
    "debrided",
    "cultured",
    "antibiotic",
    "offloading_prescribed",
    "offloading_dispensed",
    "dressing_on_arrival",
    "is_staged",
];

/// What a column holds.
#[derive(Clone, Copy)]
enum Kind {
    Text,
    Whole,
    Number,
    Date,
    YesNo,
}

impl Kind {
    /// The kind of a column of the long export.
    fn of(header: &str) -> Self {
        if DATES.contains(&header) {
            Self::Date
        } else if NUMBERS.contains(&header) || UNITS.iter().any(|unit| header.ends_with(unit)) {
            Self::Number
        } else if WHOLE_NUMBERS.contains(&header) {
            Self::Whole
        } else if ANSWERS.contains(&header) {
            Self::YesNo
        } else {
            Self::Text
        }
    }

    fn field(self, header: &str) -> Result<Type, ParquetError> {
        let (stored, logical) = match self {
            Self::Text => (Stored::BYTE_ARRAY, Some(LogicalType::String)),
            Self::Whole => (Stored::INT64, None),
            Self::Number => (Stored::DOUBLE, None),
            Self::Date => (Stored::INT32, Some(LogicalType::Date)),
            Self::YesNo => (Stored::BOOLEAN, None),
        };
        Type::primitive_type_builder(header, stored)
            .with_repetition(Repetition::OPTIONAL)
            .with_logical_type(logical)
            .build()
    }
}

/// Writes delimited text as Parquet, every column as the text it is; an empty cell is a missing one.
///
/// # Errors
/// Those of reader and writer.
pub fn write_text_columns<W: Write + Send>(text: impl Read, to: W) -> io::Result<()> {
    write(text, to, |_| Kind::Text)
}

/// Writes a table of the long export as Parquet, its dates, numbers and answers with types of their own.
///
/// # Errors
/// Those of reader and writer, and a cell that is not of its column's type.
pub fn write_typed_columns<W: Write + Send>(text: impl Read, to: W) -> io::Result<()> {
    write(text, to, Kind::of)
}

fn write<W: Write + Send>(
    text: impl Read,
    to: W,
    kind_of: impl Fn(&str) -> Kind,
) -> io::Result<()> {
    let mut rows = csv::Reader::from_reader(text);
    let headers: Vec<String> = rows
        .headers()?
        .iter()
        .map(|header| header.trim_start_matches('\u{feff}').to_owned())
        .collect();
    let kinds: Vec<Kind> = headers.iter().map(|header| kind_of(header)).collect();
    let mut writer = begin(to, &headers, &kinds)?;
    let mut columns: Vec<Vec<Option<String>>> = vec![Vec::new(); headers.len()];
    let mut n_rows = 0;
    for row in rows.records() {
        for (column, cell) in columns.iter_mut().zip(&row?) {
            column.push((!cell.is_empty()).then(|| cell.to_owned()));
        }
        n_rows += 1;
        if n_rows == ROWS_A_GROUP {
            write_group(&mut writer, &kinds, &mut columns)?;
            n_rows = 0;
        }
    }
    if n_rows > 0 {
        write_group(&mut writer, &kinds, &mut columns)?;
    }
    writer.close().map_err(io::Error::other)?;
    Ok(())
}

fn begin<W: Write + Send>(
    to: W,
    headers: &[String],
    kinds: &[Kind],
) -> io::Result<SerializedFileWriter<W>> {
    let fields = (headers.iter().zip(kinds))
        .map(|(header, kind)| kind.field(header).map(Arc::new))
        .collect::<Result<_, _>>()
        .map_err(io::Error::other)?;
    let schema = Type::group_type_builder("rows")
        .with_fields(fields)
        .build()
        .map_err(io::Error::other)?;
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by("limbledger simulate".to_owned())
        .build();
    SerializedFileWriter::new(to, Arc::new(schema), Arc::new(properties)).map_err(io::Error::other)
}

/// Writes what the columns hold as one group, and empties them.
fn write_group<W: Write + Send>(
    writer: &mut SerializedFileWriter<W>,
    kinds: &[Kind],
    columns: &mut [Vec<Option<String>>],
) -> io::Result<()> {
    let mut group = writer.next_row_group().map_err(io::Error::other)?;
    for (kind, column) in kinds.iter().zip(columns) {
        let cells = std::mem::take(column);
        match kind {
            Kind::Text => {
                put::<ByteArrayType, _>(&mut group, &cells, |cell| Some(ByteArray::from(cell)))?
            }
            Kind::Whole => put::<Int64Type, _>(&mut group, &cells, |cell| cell.parse().ok())?,
            Kind::Number => put::<DoubleType, _>(&mut group, &cells, |cell| cell.parse().ok())?,
            Kind::Date => put::<Int32Type, _>(&mut group, &cells, days_since_1970)?,
            Kind::YesNo => put::<BoolType, _>(&mut group, &cells, |cell| match cell {
                "yes" => Some(true),
                "no" => Some(false),
                _ => None,
            })?,
        }
    }
    group.close().map_err(io::Error::other)?;
    Ok(())
}

fn put<T: DataType, W: Write + Send>(
    group: &mut SerializedRowGroupWriter<'_, W>,
    cells: &[Option<String>],
    read: impl Fn(&str) -> Option<T::T>,
) -> io::Result<()> {
    let levels: Vec<i16> = cells.iter().map(|cell| i16::from(cell.is_some())).collect();
    let values = (cells.iter().flatten())
        .map(|cell| read(cell))
        .collect::<Option<Vec<_>>>()
        .ok_or_else(|| io::Error::other("a cell is not of the type of its column"))?;
    let mut column = group
        .next_column()
        .map_err(io::Error::other)?
        .ok_or_else(|| io::Error::other("there are more columns than headers"))?;
    column
        .typed::<T>()
        .write_batch(&values, Some(&levels), None)
        .map_err(io::Error::other)?;
    column.close().map_err(io::Error::other)
}

fn days_since_1970(cell: &str) -> Option<i32> {
    let date: NaiveDate = cell.parse().ok()?;
    let first = NaiveDate::from_ymd_opt(1970, 1, 1)?;
    i32::try_from((date - first).num_days()).ok()
}
