//! The fields of a person that an export can fill.

use super::{Codes, Field, Kind, codes_of};
use chrono::NaiveDate;
use outcomes::coded;
use outcomes::tables::{AmputationLevel, DiabetesType, NameId, Sex, Side};

coded! {
    /// Highest earlier amputation as recorded in a history question.
    pub enum PriorLevel { Absent = "none", Minor = "minor", Major = "major" }
}

impl PriorLevel {
    /// The level, where there was one.
    pub(crate) const fn level(self) -> Option<AmputationLevel> {
        match self {
            Self::Absent => None,
            Self::Minor => Some(AmputationLevel::Minor),
            Self::Major => Some(AmputationLevel::Major),
        }
    }
}

/// What one row says about a person.
#[derive(Debug, Clone, Default)]
pub(crate) struct PatientFacts {
    pub(crate) referral_source: Option<NameId>,
    pub(crate) first_contact: Option<NaiveDate>,
    pub(crate) birth_year: Option<i32>,
    pub(crate) is_90_or_over: Option<bool>,
    pub(crate) sex: Option<Sex>,
    pub(crate) diabetes_type: Option<DiabetesType>,
    pub(crate) diabetes_year: Option<i32>,
    pub(crate) renal_replacement: Option<bool>,
    pub(crate) smoker: Option<bool>,
    /// When the history below was asked; the row's own date where the layout names no column.
    pub(crate) history_date: Option<NaiveDate>,
    pub(crate) prior_ulcer: Option<bool>,
    pub(crate) prior_amputation: Option<PriorLevel>,
    pub(crate) prior_amputation_side: Option<Side>,
    pub(crate) prior_amputation_left: Option<PriorLevel>,
    pub(crate) prior_amputation_right: Option<PriorLevel>,
    pub(crate) death: Option<NaiveDate>,
    pub(crate) last_contact: Option<NaiveDate>,
    /// (stratum, value), in layout order.
    pub(crate) strata: Vec<(NameId, NameId)>,
}

const PRIOR: Codes = codes_of!(PriorLevel);

/// Fields of a person.
pub(crate) const PATIENT_FIELDS: &[Field<PatientFacts>] = &[
    Field::new(
        "referral_source",
        Kind::Name(|row, value| row.referral_source = Some(value)),
    ),
    Field::new(
        "first_contact",
        Kind::Date(|row, value| row.first_contact = Some(value)),
    ),
    Field::new(
        "birth_year",
        Kind::BirthYear(|row, year| {
            row.birth_year = year;
            row.is_90_or_over = Some(year.is_none());
        }),
    ),
    Field::new(
        "sex",
        Kind::Code(codes_of!(Sex), |row, code| row.sex = Sex::from_code(code)),
    ),
    Field::new(
        "diabetes_type",
        Kind::Code(codes_of!(DiabetesType), |row, code| {
            row.diabetes_type = DiabetesType::from_code(code)
        }),
    ),
    Field::new(
        "diabetes_year",
        Kind::Year(|row, value| row.diabetes_year = Some(value)),
    ),
    Field::new(
        "renal_replacement",
        Kind::Flag(|row, value| row.renal_replacement = Some(value)),
    ),
    Field::new("smoker", Kind::Flag(|row, value| row.smoker = Some(value))),
    Field::new(
        "history_date",
        Kind::Date(|row, value| row.history_date = Some(value)),
    ),
    Field::new(
        "prior_ulcer",
        Kind::Flag(|row, value| row.prior_ulcer = Some(value)),
    ),
    Field::new(
        "prior_amputation",
        Kind::Code(PRIOR, |row, code| {
            row.prior_amputation = PriorLevel::from_code(code)
        }),
    ),
    Field::new(
        "prior_amputation_side",
        Kind::Code(codes_of!(Side), |row, code| {
            row.prior_amputation_side = Side::from_code(code)
        }),
    ),
    Field::new(
        "prior_amputation_left",
        Kind::Code(PRIOR, |row, code| {
            row.prior_amputation_left = PriorLevel::from_code(code)
        }),
    ),
    Field::new(
        "prior_amputation_right",
        Kind::Code(PRIOR, |row, code| {
            row.prior_amputation_right = PriorLevel::from_code(code)
        }),
    ),
    Field::new("death", Kind::Date(|row, value| row.death = Some(value))),
    Field::new(
        "last_contact",
        Kind::Date(|row, value| row.last_contact = Some(value)),
    ),
];
