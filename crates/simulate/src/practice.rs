//! A synthetic practice, and the exports and truths it gives.

use crate::chance::{Chance, Purpose};
use crate::long::LongFiles;
use crate::patient::{Patient, patient};
use crate::scenario::Scenario;
use crate::truth::{TruthFile, csv_file};
use crate::wide::typing::{Mistake, Places, TypingError, mistakes, mistyped};
use crate::wide::upgrade::{DELIMITER, NewSystem};
use crate::wide::{Cells, fill, wide_columns};
use chrono::NaiveDate;
use csv::StringRecord;
use std::io::{self, Write};

/// A synthetic practice. Patients are made when they are asked for, one at a time, so a large one needs no memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Practice {
    pub(crate) scenario: Scenario,
    pub(crate) seed: u64,
}

impl Practice {
    /// Every patient with a row in the export, with their number.
    pub(crate) fn patients(&self) -> impl Iterator<Item = (u64, Patient)> + '_ {
        (0..self.scenario.n_patients)
            .filter_map(|number| Some((number, patient(&self.scenario, self.seed, number)?)))
    }

    /// Writes the wide export: CSV with a byte-order mark, CRLF, day-first dates, one row a visit; gives the mistakes
    /// that were made in it, in the order of their records.
    ///
    /// # Errors
    /// Those of the writer.
    ///
    /// # Example
    /// ```
    /// # fn main() -> std::io::Result<()> {
    /// let scenario = simulate::Scenario { n_patients: 20, ..Default::default() };
    /// let practice = simulate::simulate(&scenario, 1).expect("settings within their ranges");
    /// let mut csv = Vec::new();
    /// let mistakes = practice.write_wide(&mut csv)?;
    /// assert!(csv.starts_with("\u{feff}pat_ref,yob,".as_bytes()));
    /// # assert!(mistakes.len() < 20);
    /// # Ok(())
    /// # }
    /// ```
    pub fn write_wide(&self, out: &mut impl Write) -> io::Result<Vec<TypingError>> {
        let columns = wide_columns();
        out.write_all("\u{feff}".as_bytes())?;
        let mut csv = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(out);
        csv.write_record(columns.iter().map(|column| &column.name))?;
        let errors = self.each_wide_row(|_, row| csv.write_byte_record(row.as_byte_record()))?;
        csv.flush()?;
        Ok(errors)
    }

    /// Writes the rows of the wide export as a practice that changed its records system would: rows before a day as
    /// ever, those of that day and later in a file of their own with other headers, codes, units, dates (ISO) and
    /// delimiter (`;`). The same visits, mistakes included.
    ///
    /// # Errors
    /// Those of the writers.
    pub fn write_wide_upgraded(
        &self,
        upgraded_on: NaiveDate,
        old: &mut impl Write,
        new: &mut impl Write,
    ) -> io::Result<()> {
        let columns = wide_columns();
        let system = NewSystem::of(&columns);
        let first_day = (upgraded_on - self.scenario.data_start).num_days();
        let mut old = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(old);
        let mut new = csv::WriterBuilder::new()
            .delimiter(DELIMITER)
            .from_writer(new);
        old.write_record(columns.iter().map(|column| &column.name))?;
        new.write_record(system.headers())?;
        self.each_wide_row(|day, row| {
            if i64::from(day) < first_day {
                old.write_byte_record(row.as_byte_record())
            } else {
                new.write_byte_record(system.rewrite(row).as_byte_record())
            }
        })?;
        old.flush()?;
        new.flush()
    }

    /// Gives every row of the wide export with its day; the mistakes that were made in them.
    fn each_wide_row(
        &self,
        mut give: impl FnMut(i32, &StringRecord) -> Result<(), csv::Error>,
    ) -> io::Result<Vec<TypingError>> {
        let columns = wide_columns();
        let places = Places::of(&columns);
        let mut cells = Cells::default();
        let mut errors = Vec::new();
        let mut record = 0;
        for (number, patient) in self.patients() {
            let mut writing = Chance::of_patient(self.seed, number, Purpose::Writing);
            let mut typing = Chance::of_patient(self.seed, number, Purpose::Typing);
            for row in &patient.rows {
                fill(&mut cells, &patient, row, &self.scenario, &mut writing);
                record += 1;
                let spoilt = mistakes(&cells.row, &places, &self.scenario.typing, &mut typing);
                if !spoilt.is_empty() {
                    cells.row = mistyped(&cells.row, &spoilt);
                    errors.extend(spoilt.into_iter().map(|spoilt| TypingError {
                        record,
                        column: columns[spoilt.position].name.clone(),
                        mistake: spoilt.mistake,
                    }));
                }
                give(row.day, &cells.row)?;
                if typing.happens(self.scenario.typing.repeated_row) {
                    record += 1;
                    give(row.day, &cells.row)?;
                    errors.push(TypingError {
                        record,
                        column: String::new(),
                        mistake: Mistake::RepeatedRow,
                    });
                }
            }
        }
        Ok(errors)
    }

    /// The wide export in memory.
    ///
    /// # Errors
    /// When a row cannot be written as CSV.
    pub fn export_wide(&self) -> io::Result<WideExport> {
        let mut csv = Vec::new();
        let typing_errors = self.write_wide(&mut csv)?;
        Ok(WideExport { csv, typing_errors })
    }

    /// The long export in memory.
    ///
    /// # Errors
    /// When a row cannot be written as CSV.
    pub fn export_long(&self) -> io::Result<LongFiles<Vec<u8>>> {
        let mut files = LongFiles::default();
        self.write_long(LongFiles {
            patients: &mut files.patients,
            visits: &mut files.visits,
            foot_exams: &mut files.foot_exams,
            ulcer_observations: &mut files.ulcer_observations,
            events: &mut files.events,
        })?;
        Ok(files)
    }
}

/// The wide export and the mistakes made in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WideExport {
    /// CSV.
    pub csv: Vec<u8>,
    /// Every mistake, in the order of the records.
    pub typing_errors: Vec<TypingError>,
}

/// The list of mistakes as a file of truth.
///
/// # Errors
/// When a row cannot be written as CSV.
pub fn typing_errors_file(errors: &[TypingError]) -> Result<TruthFile, csv::Error> {
    csv_file("typing-errors.csv", errors)
}
