//! `trace.csv`: a line a subject of every measure, so that any figure can be followed to the rows behind it.

use crate::inert::for_cell;
use chrono::NaiveDate;
use outcomes::measure::TraceLine;
use outcomes::tables::{Dated, Tables};
use serde::{Deserialize, Serialize};

/// Its name within the copies that are kept inside.
pub(crate) const TRACE: &str = "trace.csv";

/// One line of the file. Files are numbered as the manifest lists them, from 1; records are counted without the header.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Row {
    pub(crate) measure: String,
    pub(crate) quarter: String,
    pub(crate) stratum: String,
    pub(crate) patient: String,
    pub(crate) began: Option<NaiveDate>,
    pub(crate) began_file: Option<u32>,
    pub(crate) began_record: Option<u32>,
    pub(crate) entry_day: Option<i64>,
    pub(crate) day: Option<i64>,
    pub(crate) outcome: String,
    pub(crate) outcome_date: Option<NaiveDate>,
    pub(crate) outcome_file: Option<u32>,
    pub(crate) outcome_record: Option<u32>,
    pub(crate) expected: Option<f64>,
}

/// A subject as a line of the file.
pub(crate) fn row(line: &TraceLine, tables: &Tables) -> Row {
    let file = |at: Option<Dated>| at.map(|at| u32::from(at.source.file) + 1);
    let record = |at: Option<Dated>| at.map(|at| at.source.record);
    Row {
        measure: line.measure.to_owned(),
        quarter: line.quarter.to_string(),
        stratum: line.stratum.clone(),
        patient: for_cell(&tables.patient(line.person).id),
        began: line.from.map(|at| at.date),
        began_file: file(line.from),
        began_record: record(line.from),
        entry_day: line.entry_day,
        day: line.day,
        outcome: line.outcome.to_owned(),
        outcome_date: line.at.map(|at| at.date),
        outcome_file: file(line.at),
        outcome_record: record(line.at),
        expected: line.expected,
    }
}

/// The file.
pub(crate) fn encode(rows: &[Row]) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row)?;
    }
    writer
        .into_inner()
        .map_err(|error| anyhow::anyhow!("{TRACE}: {}", error.error()))
}

/// The rows of one measure, read back. The error says which record cannot be read.
pub(crate) fn decode(bytes: &[u8], measure: &str) -> Result<Vec<Row>, String> {
    let mut reader = csv::Reader::from_reader(bytes);
    let mut rows = Vec::new();
    for (row, number) in reader.deserialize::<Row>().zip(1_u64..) {
        let row = row.map_err(|_| format!("record {number} is no line of a trace"))?;
        if row.measure == measure {
            rows.push(row);
        }
    }
    Ok(rows)
}
