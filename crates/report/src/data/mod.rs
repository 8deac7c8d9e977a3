//! Tables as data files: delimited text, Parquet and Arrow, each column with its title, unit and meaning.

mod columns;
mod dictionary;
mod text;

pub(crate) use dictionary::{page, plain, table as dictionary};

use crate::{RenderError, tables};
use outcomes::dataset::{Cell, DataTable, Field, FieldKind};
use outcomes::report::{Audience, Report};

/// A format of data files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DataFormat {
    /// Delimited text, UTF-8, a header row; no cell reads as a formula.
    Csv,
    /// Parquet, packed with Snappy; a column's title, unit and meaning are its field metadata.
    Parquet,
    /// Arrow file, with the same metadata.
    Arrow,
}

impl DataFormat {
    /// Every format.
    pub const ALL: [Self; 3] = [Self::Csv, Self::Parquet, Self::Arrow];

    /// Its word in a pipeline file, and the ending of its files.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Parquet => "parquet",
            Self::Arrow => "arrow",
        }
    }

    /// The format of this word, if there is one.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.code() == code)
    }
}

/// The tables of a report as they go into files. In a public copy each has a last column that names what a row hides.
pub(crate) fn result_tables(report: &Report) -> Vec<DataTable> {
    let mut tables = tables::tables(report);
    if report.audience == Audience::Public {
        tables.iter_mut().for_each(name_what_is_hidden);
    }
    tables
}

fn name_what_is_hidden(table: &mut DataTable) {
    for row in &mut table.rows {
        let hidden = table.fields.iter().zip(row.iter());
        let names: Vec<&str> = hidden
            .filter(|(_, cell)| **cell == Cell::Hidden)
            .map(|(field, _)| field.name)
            .collect();
        row.push(Cell::from(names.join(" ")));
    }
    table.fields.push(Field {
        name: "suppressed",
        title: "Suppressed",
        kind: FieldKind::Text,
        unit: "",
        words: "Columns of this row whose count is hidden to protect patients; their cells are empty. Empty where none is.",
    });
}

/// The bytes of a table in a format.
pub(crate) fn bytes(table: &DataTable, format: DataFormat) -> Result<Vec<u8>, RenderError> {
    match format {
        DataFormat::Csv => text::bytes(table),
        DataFormat::Parquet => columns::parquet(table),
        DataFormat::Arrow => columns::arrow(table),
    }
}

/// A table that could not be written, without any of its cells.
fn fault(table: &DataTable, format: DataFormat) -> RenderError {
    RenderError::Data {
        table: table.name.to_owned(),
        format: format.code(),
    }
}
