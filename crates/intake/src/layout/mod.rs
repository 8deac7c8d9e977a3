//! A layout: how one clinic's columns, codes, units and dates map onto our fields.

mod codes;
mod compile;
mod dates;
mod fhir;
mod joined;
mod mapping;
mod raw;
mod versions;
mod words;

pub(crate) use fhir::{EncounterMeaning, FhirProfile, Panel, Target};
pub(crate) use joined::Joined;
pub(crate) use raw::{DecimalMark, Encoding};
pub use words::{FieldWords, fields};

use crate::config::{self, ConfigError};
use crate::dates::DateForm;
use crate::fields::{EventDraft, ExamDraft, Field, PatientFacts, UlcerDraft, VisitDraft};
use crate::load::Unpacking;
use crate::quantity::Unit;
use chrono::NaiveDate;
use outcomes::coded;
use outcomes::rules::DeclaredDates;
use outcomes::tables::{Attendance, Side};
use serde::{Deserialize, Deserializer};
use std::collections::BTreeMap;
use std::sync::Arc;

coded! {
    /// What a file of an export holds.
    pub enum Role {
        /// Persons.
        Patients = "patients",
        /// Attendances; in a wide export everything else too.
        Visits = "visits",
        /// Foot examinations.
        FootExams = "foot-exams",
        /// Ulcer observations.
        UlcerObservations = "ulcer-observations",
        /// Events.
        Events = "events",
    }
}

impl<'de> Deserialize<'de> for Role {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::from_code(&text).ok_or_else(|| {
            let known: Vec<String> = Self::ALL.iter().map(|role| format!("`{role}`")).collect();
            serde::de::Error::custom(format!(
                "unknown variant `{text}`, expected one of {}",
                known.join(", ")
            ))
        })
    }
}

/// How an export is read. Made by [`parse`]; every name in it has been checked.
#[derive(Debug)]
pub struct Layout {
    /// Name of the layout.
    pub name: String,
    /// What it describes.
    pub description: String,
    /// What the dates of the export are declared to be.
    pub dates: DeclaredDates,
    pub(crate) form: Form,
    pub(crate) plans: Vec<FilePlan>,
    /// Set where the export is HL7 FHIR R4; then there are no plans.
    pub(crate) fhir: Option<Box<FhirProfile>>,
    /// Files whose rows other rows name.
    pub(crate) joined: Vec<Joined>,
    pub(crate) ignore: Vec<String>,
    /// Columns that look like identifiers and are declared not to be, with the reason.
    pub(crate) accepted: BTreeMap<String, String>,
    pub(crate) versions: Vec<Version>,
}

/// What some files, or rows from some day on, are read by instead.
#[derive(Debug)]
pub(crate) struct Version {
    pub(crate) name: String,
    pub(crate) applies: Applies,
    /// The whole layout as it then is; it has no versions of its own.
    pub(crate) layout: Layout,
}

/// Where a version applies.
#[derive(Debug)]
pub(crate) enum Applies {
    /// To files whose names match one of these patterns.
    Files(Vec<String>),
    /// To rows dated on or after a day, in files that no other version applies to.
    From(NaiveDate),
}

impl Layout {
    /// Columns that look like identifiers and are declared not to be, with the reason, also by versions.
    pub fn accepted(&self) -> BTreeMap<&str, &str> {
        let all = std::iter::once(self).chain(self.versions.iter().map(|version| &version.layout));
        all.flat_map(|layout| &layout.accepted)
            .map(|(column, reason)| (column.as_str(), reason.as_str()))
            .collect()
    }

    /// The roles of the files this layout reads, in reading order.
    pub fn roles(&self) -> Vec<Role> {
        self.plans.iter().map(|plan| plan.role).collect()
    }

    /// Names of the groupings under `[strata]`, each once, in order.
    pub fn strata(&self) -> Vec<&str> {
        let strata = self.plans.iter().flat_map(|plan| &plan.strata);
        let mut names: Vec<&str> = strata.map(|stratum| stratum.name.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        names
    }
}

/// Reads a layout file.
///
/// # Errors
/// The first fault with its line and column: broken TOML, an unknown key, field, unit or code list, a code that is not
/// one of the field's, a field that a table cannot do without.
pub fn parse(text: &str, file_name: &str) -> Result<Layout, ConfigError> {
    if fhir::is_fhir(text) {
        return fhir::parse(text, file_name);
    }
    let raw: raw::RawLayout = config::parse(text, file_name)?;
    versions::compile(raw, text, file_name)
}

/// How cells are written throughout the export.
#[derive(Debug)]
pub(crate) struct Form {
    pub(crate) delimiter: u8,
    pub(crate) encoding: Encoding,
    /// Lines above the header that are no part of the table.
    pub(crate) title_lines: u8,
    /// Spellings of "missing", besides an empty cell.
    pub(crate) missing: Vec<String>,
    pub(crate) decimal: DecimalMark,
    /// How far a packed file may unfold.
    pub(crate) unpacking: Unpacking,
    /// How far the clinic's clocks are ahead of UTC; gives a column of instants its days.
    pub(crate) utc_offset_minutes: Option<i32>,
    /// Whether dates tell years only.
    pub(crate) is_year_only: bool,
}

impl Form {
    /// The form of a format that says itself how its values are written.
    pub(crate) const fn of_json(unpacking: Unpacking) -> Self {
        Self {
            delimiter: b',',
            encoding: Encoding::Utf8,
            title_lines: 0,
            missing: Vec::new(),
            decimal: DecimalMark::Point,
            unpacking,
            utc_offset_minutes: None,
            is_year_only: false,
        }
    }
}

/// How one file is read.
#[derive(Debug)]
pub(crate) struct FilePlan {
    pub(crate) role: Role,
    pub(crate) patient_id: Cell,
    /// The date every row of the file is about; a file of persons has none.
    pub(crate) date: Option<Cell>,
    /// The quarter a row truly lies in, where dates were shifted and the export carries it.
    pub(crate) quarter: Option<Cell>,
    /// What names a record in every export.
    pub(crate) row_id: Option<Cell>,
    pub(crate) attendance: Option<AttendanceCodes>,
    pub(crate) patient: Vec<Mapped<PatientFacts>>,
    /// (stratum, where its value comes from).
    pub(crate) strata: Vec<Stratum>,
    /// `None` when the file's rows are no attendances.
    pub(crate) visit: Option<Vec<Mapped<VisitDraft>>>,
    pub(crate) exams: Vec<ExamBlock>,
    pub(crate) ulcers: Vec<Vec<Mapped<UlcerDraft>>>,
    pub(crate) events: Vec<Vec<Mapped<EventDraft>>>,
}

/// A foot examination, of a side fixed by its columns or read from a cell.
#[derive(Debug)]
pub(crate) struct ExamBlock {
    pub(crate) side: Option<Side>,
    pub(crate) fields: Vec<Mapped<ExamDraft>>,
}

/// An extra stratum.
#[derive(Debug)]
pub(crate) struct Stratum {
    pub(crate) name: String,
    pub(crate) cell: Cell,
}

/// A field of ours and the cell that fills it.
pub(crate) struct Mapped<R: 'static> {
    pub(crate) field: &'static Field<R>,
    pub(crate) cell: Cell,
}

impl<R> std::fmt::Debug for Mapped<R> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Mapped")
            .field("field", &self.field.name)
            .field("cell", &self.cell)
            .finish()
    }
}

/// Where a value is and how it is read.
#[derive(Debug, Clone)]
pub(crate) struct Cell {
    pub(crate) place: CellPlace,
    /// The clinic's codes, when they are not ours.
    pub(crate) codes: Option<Arc<CodeList>>,
    /// The unit it is in, for numbers.
    pub(crate) unit: Option<Unit>,
    /// The column that tells the unit row by row.
    pub(crate) unit_told: Option<UnitColumn>,
    /// Which of several numbers in the cell, from 1.
    pub(crate) part: Option<u8>,
    pub(crate) dates: DateForm,
}

/// A column that tells the unit of another.
#[derive(Debug, Clone)]
pub(crate) struct UnitColumn {
    pub(crate) header: String,
    /// The unit of each cell, where the cells are no units.
    pub(crate) codes: Option<Arc<CodeList>>,
}

/// Where a value is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum CellPlace {
    /// Under this header; the file may lack it when optional.
    Column { header: String, is_optional: bool },
    /// The same for every row.
    Constant(String),
}

/// A clinic's codes and ours, compared without regard to ASCII case.
#[derive(Debug)]
pub(crate) struct CodeList {
    pub(crate) codes: Vec<CodePair>,
}

/// One code.
#[derive(Debug)]
pub(crate) struct CodePair {
    pub(crate) theirs: String,
    /// Our spelling; `None` means missing.
    pub(crate) ours: Option<String>,
}

impl CodeList {
    /// A code and its place in the list.
    pub(crate) fn find(&self, cell: &str) -> Option<(usize, &CodePair)> {
        self.codes
            .iter()
            .enumerate()
            .find(|(_, pair)| pair.theirs.eq_ignore_ascii_case(cell))
    }
}

/// What the codes of the attendance column mean.
#[derive(Debug)]
pub(crate) struct AttendanceCodes {
    pub(crate) header: String,
    pub(crate) codes: Vec<(String, RowKind)>,
}

/// What a row of a visit file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum RowKind {
    /// An attendance, kept or not.
    Attendance(Attendance),
    /// No attendance: it carries events or facts about the person.
    Administrative,
}
