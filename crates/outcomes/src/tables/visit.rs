//! Attendances, kept or missed.

use super::{NameId, PatientKey, SourceRow};
use crate::coded;
use chrono::NaiveDate;

coded! {
    /// Whether a planned attendance took place.
    pub enum Attendance { Kept = "kept", Missed = "missed", Cancelled = "cancelled" }
}

coded! {
    /// Where the patient was seen.
    pub enum Setting { Clinic = "clinic", Home = "home", Remote = "remote", Ward = "ward" }
}

/// One attendance (or missed attendance) of one person.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// Who.
    pub patient: PatientKey,
    /// When.
    pub date: NaiveDate,
    /// Clinic site.
    pub clinic_site: Option<NameId>,
    /// Clinician key (pseudonymous).
    pub clinician: Option<NameId>,
    /// Clinician role.
    pub clinician_role: Option<NameId>,
    /// Where.
    pub setting: Option<Setting>,
    /// Kept, missed or cancelled; a row without the field is a kept visit.
    pub attendance: Attendance,
    /// Date the next visit was planned for.
    pub planned_return: Option<NaiveDate>,
    /// HbA1c in percent (NGSP).
    pub hba1c_percent: Option<f32>,
    /// The row.
    pub source: SourceRow,
}
