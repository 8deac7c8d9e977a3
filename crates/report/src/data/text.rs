//! Tables as delimited text that no spreadsheet takes for formulas.

use super::{DataFormat, fault};
use crate::{RenderError, inert};
use outcomes::dataset::{Cell, DataTable, reads_as_formula};

pub(super) fn bytes(table: &DataTable) -> Result<Vec<u8>, RenderError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let header = table.fields.iter().map(|field| field.name);
    let mut written = writer.write_record(header);
    for row in &table.rows {
        written = written.and_then(|()| writer.write_record(row.iter().map(said)));
    }
    let whole = written.ok().and_then(|()| writer.into_inner().ok());
    whole.ok_or_else(|| fault(table, DataFormat::Csv))
}

/// Dates as 2025-12-31, yes and no as true and false, nothing where there is nothing.
fn said(cell: &Cell) -> String {
    match cell {
        Cell::Absent | Cell::Hidden => String::new(),
        Cell::Text(text) => inert_text(text),
        Cell::Whole(n) => n.to_string(),
        Cell::Number(value, _) => value.to_string(),
        Cell::Date(date) => date.to_string(),
        Cell::YesNo(is_yes) => is_yes.to_string(),
    }
}

/// A text that a spreadsheet would take for a formula begins with an apostrophe.
fn inert_text(text: &str) -> String {
    let visible = inert::visible(text);
    if reads_as_formula(&visible) {
        format!("'{visible}")
    } else {
        visible
    }
}
