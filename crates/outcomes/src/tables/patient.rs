//! People, and what is known of them as a whole.

use super::{AmputationLevel, Dated, NameId, Side, SourceRow};
use crate::coded;
use chrono::NaiveDate;
use serde::Serialize;

/// Position of a person in `Tables::patients`; also the cluster number of everything they contribute.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct PatientKey(pub u32);

coded! {
    /// Sex as recorded.
    pub enum Sex { Female = "female", Male = "male", Other = "other" }
}

coded! {
    /// Diabetes type as recorded.
    pub enum DiabetesType { Type1 = "type-1", Type2 = "type-2", Other = "other" }
}

/// An amputation that was history when it was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PriorAmputation {
    /// Which leg; `None` when not recorded.
    pub side: Option<Side>,
    /// Minor or major.
    pub level: AmputationLevel,
    /// When it was recorded as history: it counts only from this visit on.
    pub recorded: Dated,
}

/// An answer and the row that first gave it: it counts only from that day on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DatedAnswer {
    /// The answer.
    pub is_yes: bool,
    /// When it was given.
    pub at: Dated,
}

/// One person, as the export describes them. History fields carry the visit that first stated them.
#[derive(Debug, Clone, PartialEq)]
pub struct Patient {
    /// Pseudonymous id as in the export.
    pub id: String,
    /// The first row that named this person.
    pub source: SourceRow,
    /// Who sent them.
    pub referral_source: Option<NameId>,
    /// First contact with any health professional for this problem.
    pub first_contact: Option<Dated>,
    /// Year of birth; 90 and over is top-coded by the exporter and flagged below.
    pub birth_year: Option<i32>,
    /// The export says "90 or over" instead of a year.
    pub is_90_or_over: bool,
    /// Sex.
    pub sex: Option<Sex>,
    /// Diabetes type.
    pub diabetes_type: Option<DiabetesType>,
    /// Year of diabetes diagnosis.
    pub diabetes_year: Option<i32>,
    /// On renal replacement, or end-stage renal disease.
    pub renal_replacement: Option<DatedAnswer>,
    /// Current smoker.
    pub smoker: Option<bool>,
    /// Had a foot ulcer before this clinic's records begin: the first row that says yes, if any.
    pub prior_ulcer: Option<Dated>,
    /// The prior-ulcer question was answered "no": the first row that says so, if any.
    pub prior_ulcer_denied: Option<Dated>,
    /// Amputations recorded as history.
    pub prior_amputations: Vec<PriorAmputation>,
    /// The prior-amputation question was answered "no": the first row that says so, if any.
    pub prior_amputation_denied: Option<Dated>,
    /// Death, with the row that told it.
    pub death: Option<Dated>,
    /// Last contact of any kind, where the export has one.
    pub last_contact: Option<NaiveDate>,
    /// Extra strata the layout names: (stratum, value).
    pub strata: Vec<(NameId, NameId)>,
}

impl Patient {
    /// A person of whom only the id is known so far.
    pub fn new(id: impl Into<String>, source: SourceRow) -> Self {
        Self {
            id: id.into(),
            source,
            referral_source: None,
            first_contact: None,
            birth_year: None,
            is_90_or_over: false,
            sex: None,
            diabetes_type: None,
            diabetes_year: None,
            renal_replacement: None,
            smoker: None,
            prior_ulcer: None,
            prior_ulcer_denied: None,
            prior_amputations: Vec::new(),
            prior_amputation_denied: None,
            death: None,
            last_contact: None,
            strata: Vec::new(),
        }
    }
}
