//! A first screen for identifiers: what looks like one stops the run, with file and column named and nothing of the cell.
//!
//! It errs towards stopping: a column it is wrong about is declared under `accept` in the layout, with the reason, which
//! the manifest and the report repeat. It is no proof of de-identification; privacy law and local rules decide what may
//! leave the practice.

mod column;
mod further;
mod headers;
mod names;
mod shapes;
mod wordy;

use crate::dates::DateForm;
use crate::load::{ByMark, Cells};
use chrono::Datelike;
use column::Column;
use outcomes::finding::{Finding, Severity};
use outcomes::rules::DataHorizon;
use outcomes::tables::SourceRow;

/// A kind of identifier.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Email,
    SocialSecurityNumber,
    Phone,
    RecordNumber,
    BirthDate,
    PostalCode,
    PersonalName,
    FreeText,
    Link,
    AgeOver89,
}

impl Kind {
    const ALL: [Self; 10] = [
        Self::Email,
        Self::SocialSecurityNumber,
        Self::Phone,
        Self::RecordNumber,
        Self::BirthDate,
        Self::PostalCode,
        Self::PersonalName,
        Self::FreeText,
        Self::Link,
        Self::AgeOver89,
    ];

    const fn check(self) -> &'static str {
        match self {
            Self::Email => "looks-like-email",
            Self::SocialSecurityNumber => "looks-like-social-security-number",
            Self::Phone => "looks-like-phone-number",
            Self::RecordNumber => "looks-like-record-number",
            Self::BirthDate => "looks-like-birth-date",
            Self::PostalCode => "looks-like-address",
            Self::PersonalName => "looks-like-name",
            Self::FreeText => "looks-like-free-text",
            Self::Link => "looks-like-link-or-device",
            Self::AgeOver89 => "age-over-89",
        }
    }
}

/// What a column is for, which decides how closely its cells are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Use {
    /// Ignored by the layout: nothing of it is read, so it is not looked at.
    Dropped,
    /// Declared by the layout to identify nobody: looked at, and what is found is noted, with the layout's reason.
    Accepted,
    /// Pseudonymous ids: as open text, but numbers and codes are its nature.
    PatientId,
    /// Spellings kept as they are, and columns the layout does not know.
    Open,
    /// Dates in this form.
    Date(DateForm),
    /// A year of birth.
    BirthYear,
    /// Codes and numbers: a readable cell cannot identify anybody.
    Closed,
}

/// A date this many years before data start is taken as a date of birth.
const BIRTH_YEARS_BACK: i32 = 15;

/// What separates an old date from a recent one.
#[derive(Debug, Clone, Copy)]
struct Years {
    /// A date in an earlier year is taken as a date of birth.
    birth_dates_before: i32,
    /// A year of birth before this is certainly an age over 89.
    over_89_before: i32,
    /// Nothing in the export can be later.
    latest: i32,
}

impl Years {
    /// Somebody born in a year is certainly 90 when the 90th birthday lies before the cut-off whatever its day.
    fn of(horizon: &DataHorizon) -> Self {
        let latest = horizon.cut_off.year();
        let is_whole_year = (horizon.cut_off.month(), horizon.cut_off.day()) == (12, 31);
        Self {
            birth_dates_before: horizon.data_start.year() - BIRTH_YEARS_BACK,
            over_89_before: latest - 90 + i32::from(is_whole_year),
            latest,
        }
    }
}

/// A year of birth before this one tells an age over 89.
pub(crate) fn over_89_before(horizon: &DataHorizon) -> i32 {
    Years::of(horizon).over_89_before
}

/// The screen of one file.
pub(crate) struct Screen {
    /// As many as the header; kept apart from the columns because every cell of every record passes here.
    glances: Vec<Glance>,
    columns: Vec<Column>,
    years: Years,
}

/// What decides whether a cell is looked at.
struct Glance {
    /// Bytes of the shortest cell that is looked at.
    shortest: usize,
    n_present: u64,
    /// Whether a text told nothing, by its number in the column: then it tells nothing again.
    is_quiet: ByMark<bool>,
}

impl Screen {
    /// A screen for columns in file order.
    pub(crate) fn new(headers: &[String], uses: &[Use], horizon: &DataHorizon) -> Self {
        let columns: Vec<Column> = headers
            .iter()
            .zip(uses)
            .map(|(header, used)| Column::new(header, *used))
            .collect();
        Self {
            glances: columns
                .iter()
                .map(|column| Glance {
                    shortest: column.shortest(),
                    n_present: 0,
                    is_quiet: ByMark::default(),
                })
                .collect(),
            columns,
            years: Years::of(horizon),
        }
    }

    /// Looks at one record with as many cells as the header.
    pub(crate) fn look(&mut self, record: &Cells, source: SourceRow) {
        for (position, cell) in record.held() {
            let Some(glance) = self.glances.get_mut(position) else {
                break;
            };
            glance.n_present += 1;
            if cell.len() < glance.shortest {
                continue;
            }
            let mark = record.mark(position);
            if mark.and_then(|mark| glance.is_quiet.get(mark)) == Some(true) {
                continue;
            }
            if let Some(column) = self.columns.get_mut(position) {
                let n_told = column.n_told();
                column.look(cell.trim(), source, self.years);
                if let Some(mark) = mark {
                    glance.is_quiet.put(mark, column.n_told() == n_told);
                }
            }
        }
    }

    /// What was found, column by column. A declared column is noted, with the layout's reason.
    pub(crate) fn findings<'r>(
        &self,
        file: &str,
        reason: impl Fn(&str) -> Option<&'r str>,
    ) -> Vec<Finding> {
        let mut findings = Vec::new();
        let columns = self.columns.iter().zip(&self.glances);
        for (column, glance) in columns.filter(|(column, _)| column.used != Use::Dropped) {
            let found = column.found(glance.n_present);
            if column.used == Use::Accepted {
                let reason = reason(&column.header).unwrap_or_default();
                findings.push(declared(file, column, &found, glance.n_present, reason));
                continue;
            }
            findings.extend(found.iter().map(|found| {
                let message = match found.n_cells {
                    None => format!("{file}: the header names what identifies a person"),
                    Some(n) => format!(
                        "{n} of {} cells look like what identifies a person",
                        glance.n_present
                    ),
                };
                finding(found.kind, found.first, column, message)
            }));
        }
        findings
    }
}

/// What was found in a column.
#[derive(Debug, Clone, Copy)]
struct Found {
    kind: Kind,
    /// `None` when the header said it.
    n_cells: Option<u64>,
    first: Option<SourceRow>,
}

fn declared(file: &str, column: &Column, found: &[Found], n_present: u64, reason: &str) -> Finding {
    let seen: Vec<String> = found
        .iter()
        .map(|found| match found.n_cells {
            None => format!("{} by its header", found.kind.check()),
            Some(n) => format!("{} in {n} of {n_present} cells", found.kind.check()),
        })
        .collect();
    let seen = if seen.is_empty() {
        "nothing was found in it".to_owned()
    } else {
        seen.join(", ")
    };
    Finding {
        check: "declared-not-identifying",
        severity: Severity::Note,
        source: None,
        column: Some(column.header.clone()),
        message: format!(
            "{file}: the layout declares that the column identifies nobody ({reason}); {seen}"
        ),
        hint: None,
        n: 1,
    }
}

fn finding(kind: Kind, source: Option<SourceRow>, column: &Column, message: String) -> Finding {
    let pooled = if kind == Kind::AgeOver89 {
        "; ages over 89 may be pooled as `90+`"
    } else {
        ""
    };
    Finding {
        check: kind.check(),
        severity: Severity::Stop,
        source,
        column: Some(column.header.clone()),
        message,
        hint: Some(format!(
            "drop the column from the export or list it under `ignore` in the layout; if it identifies nobody, declare it under [accept] with the reason{pooled}"
        )),
        n: 1,
    }
}
