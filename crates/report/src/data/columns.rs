//! Tables as typed columns: Parquet and Arrow.

use super::{DataFormat, fault};
use crate::{RenderError, inert};
use arrow_array::{
    ArrayRef, BooleanArray, Date32Array, Float64Array, Int64Array, RecordBatch, StringArray,
};
use arrow_ipc::writer::FileWriter;
use arrow_schema::{ArrowError, DataType, Field, Schema};
use chrono::NaiveDate;
use outcomes::dataset::{Cell, DataTable, Field as Described, FieldKind};
use parquet::arrow::ArrowWriter;
use parquet::basic::Compression;
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use std::collections::HashMap;
use std::sync::Arc;

const MADE_BY: &str = concat!("limbledger ", env!("CARGO_PKG_VERSION"));

pub(super) fn parquet(table: &DataTable) -> Result<Vec<u8>, RenderError> {
    let write = |batch: &RecordBatch| -> Result<Vec<u8>, ParquetError> {
        let properties = WriterProperties::builder()
            .set_compression(Compression::SNAPPY)
            .set_created_by(MADE_BY.to_owned())
            .build();
        let mut writer = ArrowWriter::try_new(Vec::new(), batch.schema(), Some(properties))?;
        writer.write(batch)?;
        writer.into_inner()
    };
    let batch = batch(table).map_err(|_| fault(table, DataFormat::Parquet))?;
    write(&batch).map_err(|_| fault(table, DataFormat::Parquet))
}

pub(super) fn arrow(table: &DataTable) -> Result<Vec<u8>, RenderError> {
    let write = |batch: &RecordBatch| -> Result<Vec<u8>, ArrowError> {
        let mut writer = FileWriter::try_new(Vec::new(), batch.schema_ref())?;
        writer.write(batch)?;
        writer.into_inner()
    };
    let batch = batch(table).map_err(|_| fault(table, DataFormat::Arrow))?;
    write(&batch).map_err(|_| fault(table, DataFormat::Arrow))
}

fn batch(table: &DataTable) -> Result<RecordBatch, ArrowError> {
    let fields: Vec<Field> = table.fields.iter().map(field).collect();
    let words = metadata([("title", table.title), ("meaning", table.words)]);
    let schema = Schema::new(fields).with_metadata(words);
    let columns = (table.fields.iter().enumerate())
        .map(|(place, field)| column(table, place, field.kind))
        .collect();
    RecordBatch::try_new(Arc::new(schema), columns)
}

fn field(described: &Described) -> Field {
    let kind = match described.kind {
        FieldKind::Text => DataType::Utf8,
        FieldKind::Whole => DataType::Int64,
        FieldKind::Number => DataType::Float64,
        FieldKind::Date => DataType::Date32,
        FieldKind::YesNo => DataType::Boolean,
    };
    let mut words = metadata([("title", described.title), ("meaning", described.words)]);
    if !described.unit.is_empty() {
        words.insert("unit".to_owned(), described.unit.to_owned());
    }
    Field::new(described.name, kind, true).with_metadata(words)
}

fn metadata<const N: usize>(pairs: [(&str, &str); N]) -> HashMap<String, String> {
    pairs
        .map(|(key, value)| (key.to_owned(), value.to_owned()))
        .into()
}

/// A cell of another kind than its column's counts as absent.
fn column(table: &DataTable, place: usize, kind: FieldKind) -> ArrayRef {
    let cells = || {
        table
            .rows
            .iter()
            .map(|row| row.get(place).unwrap_or(&Cell::Absent))
    };
    match kind {
        FieldKind::Text => Arc::new(StringArray::from_iter(cells().map(|cell| match cell {
            Cell::Text(text) => Some(inert::visible(text)),
            _ => None,
        }))),
        FieldKind::Whole => Arc::new(Int64Array::from_iter(cells().map(|cell| match cell {
            Cell::Whole(n) => Some(*n),
            _ => None,
        }))),
        FieldKind::Number => Arc::new(Float64Array::from_iter(cells().map(Cell::as_number))),
        FieldKind::Date => Arc::new(Date32Array::from_iter(cells().map(|cell| match cell {
            Cell::Date(date) => days_since_1970(*date),
            _ => None,
        }))),
        FieldKind::YesNo => Arc::new(BooleanArray::from_iter(cells().map(|cell| match cell {
            Cell::YesNo(is_yes) => Some(*is_yes),
            _ => None,
        }))),
    }
}

fn days_since_1970(date: NaiveDate) -> Option<i32> {
    let first = NaiveDate::from_ymd_opt(1970, 1, 1)?;
    i32::try_from((date - first).num_days()).ok()
}
