//! The table that is graded.

use crate::estimate::unreadable;
use crate::failure::Failure;
use std::path::Path;

/// A table as read: every cell is kept, to be written again.
pub(super) struct Table {
    pub(super) file: String,
    pub(super) headers: Vec<String>,
    pub(super) records: Vec<csv::StringRecord>,
}

impl Table {
    /// Reads a table with a header and at least one row, all of one length.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        let file = path.display().to_string();
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_path(path)
            .map_err(|error| unreadable(&file, &error))?;
        let mut records = Vec::new();
        for record in reader.records() {
            records.push(record.map_err(|error| unreadable(&file, &error))?);
        }
        if records.is_empty() {
            return Err(Failure::Data(format!("{file}: the table is empty")));
        }
        let headers: Vec<String> = records
            .remove(0)
            .iter()
            .map(|header| header.trim_start_matches('\u{feff}').trim().to_owned())
            .collect();
        if records.is_empty() {
            return Err(Failure::Data(format!(
                "{file}: there is no row below the header"
            )));
        }
        let ragged = records
            .iter()
            .position(|record| record.len() != headers.len());
        if let Some(position) = ragged {
            return Err(Failure::Data(format!(
                "{file}: record {} has {} cells where the header has {}",
                position + 1,
                records.get(position).map_or(0, csv::StringRecord::len),
                headers.len()
            )));
        }
        Ok(Self {
            file,
            headers,
            records,
        })
    }
}
