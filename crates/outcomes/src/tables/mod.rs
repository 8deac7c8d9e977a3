//! The canonical tables: what every export becomes after load, whatever its layout.
//!
//! Units are in the names. Everything but keys and dates may be missing, and missing is never "no".
//! Each row keeps the file and record it came from; every derived date is traced through it.

mod event;
mod foot_exam;
mod names;
mod patient;
mod source;
mod ulcer;
mod visit;

pub use event::{AmputationHeight, AmputationLevel, Event, EventKind};
pub use foot_exam::{FootExam, Pulses, Sensation, Waveform};
pub use names::{NameId, Names};
pub use patient::{DatedAnswer, DiabetesType, Patient, PatientKey, PriorAmputation, Sex};
pub use source::{Dated, SourceFile, SourceRow};
pub use ulcer::{
    Aspect, DatePrecision, DressingCarer, FootSite, Gangrene, InfectionGrade, Onset, Origin,
    Region, SeenBy, Side, TissueDepth, UlcerObservation, UlcerState,
};
pub use visit::{Attendance, Setting, Visit};

/// Everything known after load, before any rule of derivation has been applied.
#[derive(Debug, Clone, Default)]
pub struct Tables {
    /// The files read, in reading order; `SourceRow::file` points here.
    pub files: Vec<SourceFile>,
    /// Spellings of sites, clinicians, labels and extra strata; `NameId` points here.
    pub names: Names,
    /// One row a person; `PatientKey` is the position here and the cluster number of every estimate.
    pub patients: Vec<Patient>,
    /// One row an attendance.
    pub visits: Vec<Visit>,
    /// One row a foot and visit.
    pub foot_exams: Vec<FootExam>,
    /// One row an ulcer and visit.
    pub ulcer_observations: Vec<UlcerObservation>,
    /// One row an event.
    pub events: Vec<Event>,
}

impl Tables {
    /// The person behind a key made by this value's loader.
    pub fn patient(&self, key: PatientKey) -> &Patient {
        &self.patients[key.0 as usize]
    }

    /// The name of a file by its number; empty when there is none.
    pub fn file_name(&self, file: u16) -> &str {
        let file = self.files.get(usize::from(file));
        file.map_or("", |file| file.name.as_str())
    }

    /// The spelling behind an optional name, or "not recorded".
    pub fn name_or_unrecorded(&self, name: Option<NameId>) -> &str {
        name.map_or("not recorded", |id| self.names.get(id))
    }
}
