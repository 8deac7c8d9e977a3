//! The fields of an attendance and of an event that an export can fill.

use super::{Field, Kind, PublishedCode, codes_of};
use crate::code_tables::CodeSystem;
use chrono::NaiveDate;
use outcomes::tables::{AmputationHeight, AmputationLevel, EventKind, NameId, Setting, Side};

/// An attendance under construction.
#[derive(Debug, Clone, Default)]
pub(crate) struct VisitDraft {
    pub(crate) clinic_site: Option<NameId>,
    pub(crate) clinician: Option<NameId>,
    pub(crate) clinician_role: Option<NameId>,
    pub(crate) setting: Option<Setting>,
    pub(crate) planned_return: Option<NaiveDate>,
    pub(crate) hba1c_percent: Option<f32>,
}

/// Fields of an attendance.
pub(crate) const VISIT_FIELDS: &[Field<VisitDraft>] = &[
    Field::new(
        "clinic_site",
        Kind::Name(|row, value| row.clinic_site = Some(value)),
    ),
    Field::new(
        "clinician",
        Kind::Name(|row, value| row.clinician = Some(value)),
    ),
    Field::new(
        "clinician_role",
        Kind::Name(|row, value| row.clinician_role = Some(value)),
    ),
    Field::new(
        "setting",
        Kind::Code(codes_of!(Setting), |row, code| {
            row.setting = Setting::from_code(code)
        }),
    ),
    Field::new(
        "planned_return",
        Kind::Date(|row, value| row.planned_return = Some(value)),
    ),
    Field::new(
        "hba1c",
        Kind::Number(crate::quantity::Quantity::Hba1c, |row, value| {
            row.hba1c_percent = Some(value)
        }),
    ),
];

/// An event under construction.
#[derive(Debug, Clone, Default)]
pub(crate) struct EventDraft {
    pub(crate) kind: Option<EventKind>,
    pub(crate) date: Option<NaiveDate>,
    pub(crate) side: Option<Side>,
    pub(crate) label: Option<NameId>,
    pub(crate) is_staged: Option<bool>,
    pub(crate) level: Option<AmputationLevel>,
    pub(crate) height: Option<AmputationHeight>,
    /// Codes of published classifications, in the order of the fields.
    pub(crate) published: Vec<PublishedCode>,
}

/// Fields of an event.
pub(crate) const EVENT_FIELDS: &[Field<EventDraft>] = &[
    Field::new(
        "kind",
        Kind::Code(codes_of!(EventKind), |row, code| {
            row.kind = EventKind::from_code(code)
        }),
    ),
    Field::new("date", Kind::Date(|row, value| row.date = Some(value))),
    Field::new(
        "side",
        Kind::Code(codes_of!(Side), |row, code| {
            row.side = Side::from_code(code)
        }),
    ),
    Field::new(
        "ulcer_label",
        Kind::Name(|row, value| row.label = Some(value)),
    ),
    Field::new(
        "is_staged",
        Kind::Flag(|row, value| row.is_staged = Some(value)),
    ),
    Field::new(
        "level",
        Kind::Code(codes_of!(AmputationLevel), |row, code| {
            row.level = AmputationLevel::from_code(code)
        }),
    ),
    Field::new(
        "height",
        Kind::Code(codes_of!(AmputationHeight), |row, code| {
            row.height = AmputationHeight::from_code(code)
        }),
    ),
    Field::new(
        "cpt",
        Kind::Published(CodeSystem::Cpt, |row, code| row.published.push(code)),
    ),
    Field::new(
        "icd_10_pcs",
        Kind::Published(CodeSystem::Icd10Pcs, |row, code| row.published.push(code)),
    ),
    Field::new(
        "icd_10_cm",
        Kind::Published(CodeSystem::Icd10Cm, |row, code| row.published.push(code)),
    ),
];
