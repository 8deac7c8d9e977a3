//! Every field an export can fill: its name in layouts, its kind, and where it goes.
//!
//! A layout is checked against these lists and rows are filled through them, so a field is named once.

mod exam;
mod patient;
mod rows;
mod ulcer;

pub(crate) use exam::{EXAM_FIELDS, ExamDraft};
pub(crate) use patient::{PATIENT_FIELDS, PatientFacts, PriorLevel};
pub(crate) use rows::{EVENT_FIELDS, EventDraft, VISIT_FIELDS, VisitDraft};
pub(crate) use ulcer::{ULCER_FIELDS, UlcerDraft};

use crate::code_tables::CodeSystem;
use crate::dates::WrittenDate;
use crate::quantity::Quantity;
use chrono::NaiveDate;
use outcomes::tables::NameId;

/// One field of a row under construction.
pub(crate) struct Field<R> {
    /// Name in layouts.
    pub(crate) name: &'static str,
    /// What a cell must be, and where it goes.
    pub(crate) kind: Kind<R>,
}

/// What a cell must be, and where it goes.
pub(crate) enum Kind<R> {
    /// Any spelling, kept once.
    Name(fn(&mut R, NameId)),
    /// A whole date.
    Date(fn(&mut R, NaiveDate)),
    /// A date that may be known to the month or year only.
    PartialDate(fn(&mut R, WrittenDate)),
    /// A quantity in our unit.
    Number(Quantity, fn(&mut R, f32)),
    /// A calendar year.
    Year(fn(&mut R, i32)),
    /// A year of birth; `None` for our spelling `90-or-over`.
    BirthYear(fn(&mut R, Option<i32>)),
    /// `yes` or `no`.
    Flag(fn(&mut R, bool)),
    /// One of our spellings.
    Code(Codes, fn(&mut R, &str)),
    /// A code of a published classification, kept until the day of its row is known.
    Published(CodeSystem, fn(&mut R, PublishedCode)),
}

/// A code of a published classification as a cell gave it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PublishedCode {
    pub(crate) system: CodeSystem,
    pub(crate) code: String,
    /// The column it stood in.
    pub(crate) position: Option<usize>,
}

/// The spellings a coded field takes.
#[derive(Clone, Copy)]
pub(crate) struct Codes {
    /// Whether a spelling is one of them.
    pub(crate) is_known: fn(&str) -> bool,
    /// Them, for messages.
    pub(crate) spellings: fn() -> Vec<&'static str>,
}

/// Our spelling of a year of birth that the exporter withholds because of age.
pub(crate) const OVER_90: &str = "90-or-over";

/// What flags are spelt with.
pub(crate) const YES_NO: Codes = Codes {
    is_known: |code| matches!(code, "yes" | "no"),
    spellings: || vec!["yes", "no"],
};

/// What a year of birth may be coded as.
const BIRTH_YEARS: Codes = Codes {
    is_known: |code| code == OVER_90,
    spellings: || vec![OVER_90],
};

impl<R> Kind<R> {
    /// The spellings the field takes, when it takes only some.
    pub(crate) const fn codes(&self) -> Option<Codes> {
        match self {
            Self::Code(codes, _) => Some(*codes),
            Self::Flag(_) => Some(YES_NO),
            Self::BirthYear(_) => Some(BIRTH_YEARS),
            Self::Name(_)
            | Self::Date(_)
            | Self::PartialDate(_)
            | Self::Number(..)
            | Self::Year(_)
            | Self::Published(..) => None,
        }
    }

    /// Whether a clinic's code list may stand between its cells and ours.
    pub(crate) const fn takes_codes(&self) -> bool {
        self.codes().is_some() || matches!(self, Self::Name(_))
    }
}

impl<R> Field<R> {
    const fn new(name: &'static str, kind: Kind<R>) -> Self {
        Self { name, kind }
    }
}

/// The codes of an enum with fixed spellings.
macro_rules! codes_of {
    ($name:ty) => {
        $crate::fields::Codes {
            is_known: |code| <$name>::from_code(code).is_some(),
            spellings: || <$name>::ALL.iter().map(|value| value.code()).collect(),
        }
    };
}
use codes_of;
