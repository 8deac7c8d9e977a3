//! An independent recount of the tables with a general table engine, to be held against the pipeline's own accounts.
//!
//! No type of the engine leaves this module. Columns are small whole numbers, never strings.

use crate::completeness::{Completable, EVENT, EXAM, PATIENT, PATIENT_HISTORY, ULCER, VISIT};
use chrono::{Datelike, NaiveDate};
use outcomes::report::FieldCompleteness;
use outcomes::rules::Quarter;
use outcomes::tables::{Attendance, PatientKey, SourceRow, Tables, Visit};
use polars::prelude::{Column, DataFrame, PolarsError, PolarsResult};
use std::collections::BTreeMap;
use thiserror::Error;

/// Counts of the tables made on a path of their own.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Recount {
    /// Rows and persons of each table, in table order.
    pub tables: Vec<TableCount>,
    /// Distinct ulcers: person, side and label.
    pub n_ulcers: u64,
    /// Attendances by calendar quarter, oldest first.
    pub quarters: Vec<QuarterCount>,
    /// Records of each file that left a row in some table but `patients`, in file order.
    pub files: Vec<FileRecount>,
    /// Share of rows that carry each field, over all and by quarter; patients by the quarter of their first row.
    pub completeness: Vec<FieldCompleteness>,
}

/// Rows and persons of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableCount {
    /// The table.
    pub table: &'static str,
    /// Its rows.
    pub n_rows: u64,
    /// Persons with a row.
    pub n_persons: u64,
}

/// Attendances of a quarter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuarterCount {
    /// The quarter.
    pub quarter: Quarter,
    /// Attendances, kept or not.
    pub n_visits: u64,
    /// Attendances kept.
    pub n_kept: u64,
}

/// Records of a file that left rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileRecount {
    /// The file.
    pub file: String,
    /// Distinct records behind the rows of all tables but `patients`.
    pub n_records: u64,
}

/// The table engine refused; a fault of the program, not of the data.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("the recount failed: {reason}")]
pub struct RecountError {
    /// The engine's words.
    pub reason: String,
}

impl From<PolarsError> for RecountError {
    fn from(error: PolarsError) -> Self {
        Self {
            reason: error.to_string(),
        }
    }
}

/// Recounts the tables.
///
/// # Errors
/// When the table engine refuses.
pub fn recount(tables: &Tables) -> Result<Recount, RecountError> {
    Ok(Recount {
        tables: table_counts(tables)?,
        n_ulcers: n_ulcers(tables)?,
        quarters: quarters(tables)?,
        files: files(tables)?,
        completeness: completeness(tables)?,
    })
}

fn table_counts(tables: &Tables) -> PolarsResult<Vec<TableCount>> {
    let everyone = 0..u32::try_from(tables.patients.len()).unwrap_or(u32::MAX);
    Ok(vec![
        table_count("patients", everyone.collect())?,
        table_count(
            "visits",
            tables.visits.iter().map(|row| row.patient.0).collect(),
        )?,
        table_count(
            "foot-exams",
            tables.foot_exams.iter().map(|row| row.patient.0).collect(),
        )?,
        table_count(
            "ulcer-observations",
            tables
                .ulcer_observations
                .iter()
                .map(|row| row.patient.0)
                .collect(),
        )?,
        table_count(
            "events",
            tables.events.iter().map(|row| row.patient.0).collect(),
        )?,
    ])
}

fn table_count(table: &'static str, persons: Vec<u32>) -> PolarsResult<TableCount> {
    let n_rows = persons.len() as u64;
    let persons = DataFrame::new(persons.len(), vec![Column::new("person".into(), persons)])?;
    Ok(TableCount {
        table,
        n_rows,
        n_persons: n_groups(&persons, &["person"])?,
    })
}

fn n_ulcers(tables: &Tables) -> PolarsResult<u64> {
    let rows = &tables.ulcer_observations;
    let ulcers = DataFrame::new(
        rows.len(),
        vec![
            Column::new(
                "person".into(),
                rows.iter().map(|row| row.patient.0).collect::<Vec<u32>>(),
            ),
            Column::new(
                "side".into(),
                rows.iter().map(|row| row.side as u32).collect::<Vec<u32>>(),
            ),
            Column::new(
                "label".into(),
                rows.iter().map(|row| row.label.0).collect::<Vec<u32>>(),
            ),
        ],
    )?;
    n_groups(&ulcers, &["person", "side", "label"])
}

fn n_groups(rows: &DataFrame, by: &[&str]) -> PolarsResult<u64> {
    if rows.height() == 0 {
        return Ok(0);
    }
    Ok(rows.group_by(by.iter().copied())?.get_groups().len() as u64)
}

fn quarters(tables: &Tables) -> PolarsResult<Vec<QuarterCount>> {
    let is_kept = |row: &&Visit| row.attendance == Attendance::Kept;
    let all = sizes_by_key(
        tables
            .visits
            .iter()
            .map(|row| quarter_key(row.date))
            .collect(),
    )?;
    let kept = sizes_by_key(
        tables
            .visits
            .iter()
            .filter(is_kept)
            .map(|row| quarter_key(row.date))
            .collect(),
    )?;
    Ok(all
        .iter()
        .filter_map(|(key, n_visits)| {
            Some(QuarterCount {
                quarter: quarter_of_key(*key)?,
                n_visits: *n_visits,
                n_kept: kept.get(key).copied().unwrap_or_default(),
            })
        })
        .collect())
}

fn files(tables: &Tables) -> PolarsResult<Vec<FileRecount>> {
    let sources: Vec<SourceRow> = (tables.visits.iter().map(|row| row.source))
        .chain(tables.foot_exams.iter().map(|row| row.source))
        .chain(tables.ulcer_observations.iter().map(|row| row.source))
        .chain(tables.events.iter().map(|row| row.source))
        .collect();
    let of_file = |file: usize| {
        let records: Vec<u32> = sources
            .iter()
            .filter(|source| usize::from(source.file) == file)
            .map(|source| source.record)
            .collect();
        let records = DataFrame::new(records.len(), vec![Column::new("record".into(), records)])?;
        n_groups(&records, &["record"])
    };
    tables
        .files
        .iter()
        .enumerate()
        .map(|(position, file)| {
            Ok(FileRecount {
                file: file.name.clone(),
                n_records: of_file(position)?,
            })
        })
        .collect()
}

fn completeness(tables: &Tables) -> PolarsResult<Vec<FieldCompleteness>> {
    let patients = patient_quarters(tables);
    let visits: Vec<i32> = tables
        .visits
        .iter()
        .map(|row| quarter_key(row.date))
        .collect();
    let exams: Vec<i32> = tables
        .foot_exams
        .iter()
        .map(|row| quarter_key(row.date))
        .collect();
    let ulcers: Vec<i32> = tables
        .ulcer_observations
        .iter()
        .map(|row| quarter_key(row.date))
        .collect();
    let events: Vec<i32> = tables
        .events
        .iter()
        .map(|row| quarter_key(row.date))
        .collect();
    Ok([
        of_table("patients", &tables.patients, &patients, PATIENT_HISTORY)?,
        of_table("patients", &tables.patients, &patients, PATIENT)?,
        of_table("visits", &tables.visits, &visits, VISIT)?,
        of_table("foot-exams", &tables.foot_exams, &exams, EXAM)?,
        of_table(
            "ulcer-observations",
            &tables.ulcer_observations,
            &ulcers,
            ULCER,
        )?,
        of_table("events", &tables.events, &events, EVENT)?,
    ]
    .concat())
}

/// The quarter of each person's first visit; of a person without one, no quarter.
fn patient_quarters(tables: &Tables) -> Vec<i32> {
    let mut first = vec![NO_QUARTER; tables.patients.len()];
    let dated = tables.visits.iter().map(|row| (row.patient, row.date));
    for (PatientKey(person), date) in dated {
        if let Some(known) = first.get_mut(person as usize) {
            *known = quarter_key(date).min(*known);
        }
    }
    first
}

fn of_table<R>(
    table: &str,
    rows: &[R],
    quarters: &[i32],
    fields: &[Completable<R>],
) -> PolarsResult<Vec<FieldCompleteness>> {
    let mut counted = Vec::new();
    for fields in fields.chunks(FIELDS_AT_ONCE) {
        let keys = rows.iter().zip(quarters).map(|(row, quarter)| {
            fields.iter().fold(*quarter, |key, field| {
                let is_there = (field.could_have)(row).then(|| (field.has)(row));
                3 * key + is_there.map_or(0, |is_there| 1 + i32::from(is_there))
            })
        });
        let sizes = sizes_by_key(keys.collect())?;
        for (place, field) in fields.iter().rev().enumerate() {
            let digits = sizes
                .iter()
                .map(|(key, n_rows)| (decoded(*key, place, fields.len()), *n_rows));
            counted.push(field_completeness(table, field.field, digits));
        }
        let n = counted.len();
        if let Some(these) = counted.get_mut(n - fields.len()..) {
            these.reverse();
        }
    }
    Ok(counted)
}

/// Fields counted in one pass: a key is the quarter, then a digit to base three for each field, the last field last: 0 where a
/// row cannot have it, 1 where it lacks it, 2 where it has it.
const FIELDS_AT_ONCE: usize = 4;

/// The quarter in a key of so many digits, and the digit so many places from its end.
fn decoded(key: i32, place: usize, n_digits: usize) -> (i32, i32) {
    let without = |key: i32, n: usize| (0..n).fold(key, |key, _| key.div_euclid(3));
    (without(key, n_digits), without(key, place).rem_euclid(3))
}

/// Counts one field from (quarter, digit) and the rows of each.
fn field_completeness(
    table: &str,
    field: &str,
    sizes: impl Iterator<Item = ((i32, i32), u64)>,
) -> FieldCompleteness {
    let mut quarters: BTreeMap<i32, (u64, u64)> = BTreeMap::new();
    for ((quarter, digit), n_rows) in sizes.filter(|((_, digit), _)| *digit > 0) {
        let (n_present, n_all) = quarters.entry(quarter).or_default();
        *n_all += n_rows;
        *n_present += n_rows * u64::from(digit == 2);
    }
    FieldCompleteness {
        table: table.to_owned(),
        field: field.to_owned(),
        n_rows: quarters.values().map(|(_, n_all)| n_all).sum(),
        n_present: quarters.values().map(|(n_present, _)| n_present).sum(),
        quarters: quarters
            .iter()
            .filter_map(|(key, (n_present, n_all))| {
                Some((quarter_of_key(*key)?.to_string(), *n_present, *n_all))
            })
            .collect(),
    }
}

/// How often each key occurs, in key order.
fn sizes_by_key(keys: Vec<i32>) -> PolarsResult<BTreeMap<i32, u64>> {
    if keys.is_empty() {
        return Ok(BTreeMap::new());
    }
    let rows = DataFrame::new(keys.len(), vec![Column::new("key".into(), keys)])?;
    let grouped = rows.group_by(["key"])?;
    let mut sizes = BTreeMap::new();
    for column in grouped.keys() {
        let keys = column.i32()?.into_no_null_iter();
        sizes.extend(keys.zip(grouped.get_groups().iter().map(|group| group.len() as u64)));
    }
    Ok(sizes)
}

/// The key of no quarter: later than any date, and small enough to have digits put behind it.
const NO_QUARTER: i32 = i32::MAX / 100;

/// Quarters as whole numbers in calendar order.
fn quarter_key(date: NaiveDate) -> i32 {
    date.year() * 4 + i32::try_from(date.month0() / 3).unwrap_or(0)
}

fn quarter_of_key(key: i32) -> Option<Quarter> {
    let month = u32::try_from(key.rem_euclid(4)).ok()? * 3 + 1;
    NaiveDate::from_ymd_opt(key.div_euclid(4), month, 1).map(Quarter::of)
}
