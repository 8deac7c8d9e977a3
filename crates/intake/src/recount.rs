//! An independent recount of the tables with a general table engine, to be held against the pipeline's own accounts.
//!
//! No type of the engine leaves this module. Columns are small whole numbers, never strings.

use crate::completeness::{Completable, EVENT, EXAM, PATIENT, PATIENT_HISTORY, ULCER, VISIT};
use chrono::{Datelike, NaiveDate};
use outcomes::report::FieldCompleteness;
use outcomes::rules::Quarter;
use outcomes::tables::{Attendance, PatientKey, Side, SourceRow, Tables};
use polars::prelude::{Column, DataFrame, PolarsError, PolarsResult};
use std::collections::BTreeMap;
use std::thread::ScopedJoinHandle;
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
    std::thread::scope(|scope| {
        // a good third of the work each
        let completeness = scope.spawn(|| completeness(tables));
        let files = scope.spawn(|| files(tables));
        Ok(Recount {
            tables: table_counts(tables)?,
            n_ulcers: n_ulcers(tables)?,
            quarters: quarters(tables)?,
            files: done(files)?,
            completeness: done(completeness),
        })
    })
}

/// What a thread made; its panic is passed on.
fn done<T>(thread: ScopedJoinHandle<'_, T>) -> T {
    let made = thread.join();
    made.unwrap_or_else(|panic| std::panic::resume_unwind(panic))
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
    Ok(TableCount {
        table,
        n_rows: persons.len() as u64,
        n_persons: n_distinct(Column::new("person".into(), persons))?,
    })
}

/// Distinct ulcers, foot by foot; person and label in one number.
fn n_ulcers(tables: &Tables) -> PolarsResult<u64> {
    let of_side = |side: Side| {
        let rows = tables.ulcer_observations.iter();
        let ulcers: Vec<u64> = rows
            .filter(|row| row.side == side)
            .map(|row| u64::from(row.patient.0) << 32 | u64::from(row.label.number()))
            .collect();
        n_distinct(Column::new("ulcer".into(), ulcers))
    };
    Side::ALL.iter().map(|side| of_side(*side)).sum()
}

fn n_distinct(values: Column) -> PolarsResult<u64> {
    Ok(values.n_unique()? as u64)
}

fn quarters(tables: &Tables) -> PolarsResult<Vec<QuarterCount>> {
    // twice the quarter, and one more where the visit was kept
    let keys = tables.visits.iter().map(|row| {
        let is_kept = row.attendance == Attendance::Kept;
        2 * quarter_key(row.date) + i32::from(is_kept)
    });
    let mut counts: BTreeMap<i32, (u64, u64)> = BTreeMap::new();
    for (key, n) in sizes_by_key(keys.collect())? {
        let (n_visits, n_kept) = counts.entry(key.div_euclid(2)).or_default();
        *n_visits += n;
        *n_kept += n * u64::from(key.rem_euclid(2) == 1);
    }
    Ok(counts
        .iter()
        .filter_map(|(key, (n_visits, n_kept))| {
            Some(QuarterCount {
                quarter: quarter_of_key(*key)?,
                n_visits: *n_visits,
                n_kept: *n_kept,
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
        n_distinct(Column::new("record".into(), records))
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

fn completeness(tables: &Tables) -> Vec<FieldCompleteness> {
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
    [
        of_table("patients", &tables.patients, &patients, PATIENT_HISTORY),
        of_table("patients", &tables.patients, &patients, PATIENT),
        of_table("visits", &tables.visits, &visits, VISIT),
        of_table("foot-exams", &tables.foot_exams, &exams, EXAM),
        of_table(
            "ulcer-observations",
            &tables.ulcer_observations,
            &ulcers,
            ULCER,
        ),
        of_table("events", &tables.events, &events, EVENT),
    ]
    .concat()
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
) -> Vec<FieldCompleteness> {
    let mut sizes: BTreeMap<i32, Vec<(u64, u64)>> = BTreeMap::new();
    let mut rows = rows.iter();
    // rows of one quarter mostly stand together
    for run in quarters.chunk_by(|left, right| left == right) {
        let Some(quarter) = run.first() else { continue };
        let of_quarter = sizes.entry(*quarter);
        let of_quarter = of_quarter.or_insert_with(|| vec![(0, 0); fields.len()]);
        for row in rows.by_ref().take(run.len()) {
            for (field, (n_present, n_all)) in fields.iter().zip(of_quarter.iter_mut()) {
                if (field.could_have)(row) {
                    *n_all += 1;
                    *n_present += u64::from((field.has)(row));
                }
            }
        }
    }
    let counted = |(place, field): (usize, &Completable<R>)| {
        let of_field = sizes.iter().filter_map(|(quarter, sizes)| {
            let (n_present, n_all) = *sizes.get(place)?;
            Some((*quarter, n_present, n_all))
        });
        FieldCompleteness {
            table: table.to_owned(),
            field: field.field.to_owned(),
            n_rows: of_field.clone().map(|(_, _, n_all)| n_all).sum(),
            n_present: of_field.clone().map(|(_, n_present, _)| n_present).sum(),
            quarters: of_field
                .filter(|(_, _, n_all)| *n_all > 0)
                .filter_map(|(key, n_present, n_all)| {
                    Some((quarter_of_key(key)?.to_string(), n_present, n_all))
                })
                .collect(),
        }
    };
    fields.iter().enumerate().map(counted).collect()
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

/// The key of no quarter: later than any date.
const NO_QUARTER: i32 = i32::MAX;

/// Quarters as whole numbers in calendar order.
fn quarter_key(date: NaiveDate) -> i32 {
    date.year() * 4 + i32::try_from(date.month0() / 3).unwrap_or(0)
}

fn quarter_of_key(key: i32) -> Option<Quarter> {
    let month = u32::try_from(key.rem_euclid(4)).ok()? * 3 + 1;
    NaiveDate::from_ymd_opt(key.div_euclid(4), month, 1).map(Quarter::of)
}
