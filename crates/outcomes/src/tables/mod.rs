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

    /// The name of a file without its folders, where no other file is called the same.
    pub fn short_file_name(&self, file: u16) -> &str {
        let name = self.file_name(file);
        let short = without_folders(name);
        let others = self.files.iter().map(|other| without_folders(&other.name));
        if others.filter(|other| *other == short).count() == 1 {
            short
        } else {
            name
        }
    }

    /// The spelling behind an optional name, or "not recorded".
    pub fn name_or_unrecorded(&self, name: Option<NameId>) -> &str {
        name.map_or("not recorded", |id| self.names.get(id))
    }
}

fn without_folders(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or(name)
}

/// The number that was written. Tables keep numbers as `f32`, in which 0.695 is 0.694999993, below the half that it is; five
/// decimals (three from 64 on, where `f32` holds no more) bring it back, so that a value equal to a cut-off stays equal to it.
pub(crate) fn as_written(value: f32) -> f64 {
    let scale = if value.abs() < 64.0 { 1e5 } else { 1e3 };
    (f64::from(value) * scale).round() / scale
}

#[cfg(test)]
mod tests {
    use super::{SourceFile, Tables, as_written};

    #[test]
    fn a_file_is_named_without_folders_unless_another_is_called_the_same() {
        let files = [
            "../a/visits.csv",
            "b\\events.csv",
            "../b/visits.csv",
            "plain.csv",
        ];
        let tables = Tables {
            files: (files.iter())
                .map(|name| SourceFile {
                    name: (*name).to_owned(),
                    bytes: 0,
                })
                .collect(),
            ..Tables::default()
        };
        let short: Vec<&str> = (0..5).map(|file| tables.short_file_name(file)).collect();
        let expected = [
            "../a/visits.csv",
            "events.csv",
            "../b/visits.csv",
            "plain.csv",
            "",
        ];
        assert_eq!(short, expected);
    }

    #[test]
    fn a_number_comes_back_as_it_was_written() {
        for hundredth in 0..=30_000u32 {
            let text = format!("{}.{:02}", hundredth / 100, hundredth % 100);
            assert_eq!(
                text.parse::<f32>().map(as_written),
                text.parse::<f64>(),
                "{text}"
            );
        }
        for thousandth in 0..=3_000u32 {
            let text = format!("{}.{:03}", thousandth / 1000, thousandth % 1000);
            assert_eq!(
                text.parse::<f32>().map(as_written),
                text.parse::<f64>(),
                "{text}"
            );
        }
    }
}
