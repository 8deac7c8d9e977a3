//! What one resource says, before references are followed.

use super::super::cells::CellFault;
use super::super::row::RowFault;
use crate::code_tables::CodeEntry;
use crate::dates::WrittenDate;
use crate::fields::PatientFacts;
use crate::layout::{EncounterMeaning, Panel};
use crate::quantity::Unit;
use chrono::{DateTime, FixedOffset, NaiveDate};
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{
    AmputationHeight, Attendance, EventKind, FootSite, Side, SourceRow, TissueDepth,
};

/// A resource that has been read.
#[derive(Debug)]
pub(super) struct Part {
    pub(super) source: SourceRow,
    pub(super) n_bytes: u64,
    /// Type and id, where it has both.
    pub(super) identity: Option<(String, String)>,
    /// The instant at which the record last changed.
    pub(super) last_updated: Option<DateTime<FixedOffset>>,
    /// A hash of its line.
    pub(super) line: u64,
    /// The person it is about.
    pub(super) subject: Option<String>,
    /// The encounter it belongs to.
    pub(super) encounter: Option<String>,
    pub(super) day: Day,
    /// The side it is about, whether or not the rest of it is of use.
    pub(super) side: Option<Side>,
    /// What it says, or the one reason it is set aside.
    pub(super) body: Result<Body, RowFault>,
    /// What was noticed in it; dropped with it.
    pub(super) findings: Vec<Finding>,
}

/// The day a resource is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Day {
    Known(NaiveDate),
    Absent,
    /// Not a date, or not exact to the day.
    Unreadable,
}

impl Day {
    pub(super) fn of(date: Option<Result<WrittenDate, ()>>) -> Self {
        match date {
            None => Self::Absent,
            Some(Ok(date)) if date.precision == outcomes::tables::DatePrecision::Day => {
                Self::Known(date.date)
            }
            Some(_) => Self::Unreadable,
        }
    }

    /// This day, or another where this one is absent.
    pub(super) fn or(self, other: Self) -> Self {
        if self == Self::Absent { other } else { self }
    }
}

/// What a resource says.
#[derive(Debug)]
pub(super) enum Body {
    Patient(Box<PatientFacts>),
    Encounter(Encounter),
    Appointment(Appointment),
    Lesion(Lesion),
    /// A condition that says something of the person or a foot, by its published codes.
    State(Vec<State>),
    Observation(Observation),
    Event(Event),
    /// A debridement of a lesion.
    Debridement(Option<String>),
}

#[derive(Debug)]
pub(super) struct Encounter {
    pub(super) meaning: Option<EncounterMeaning>,
    pub(super) attendance: Attendance,
    pub(super) clinic_site: Option<String>,
    pub(super) clinician: Option<String>,
    pub(super) role: Option<String>,
}

/// A planned attendance; its part's day is the day it was planned for.
#[derive(Debug)]
pub(super) struct Appointment {
    /// `None` where it was kept, which its encounter tells, or still lies ahead.
    pub(super) attendance: Option<Attendance>,
    /// The day it was made.
    pub(super) created: Day,
    pub(super) clinic_site: Option<String>,
}

#[derive(Debug, Clone)]
pub(super) struct Lesion {
    /// What the practice calls it; `None` where it has not even an id.
    pub(super) label: Option<String>,
    pub(super) side: Option<Side>,
    pub(super) site: Option<FootSite>,
    pub(super) onset: Option<WrittenDate>,
    pub(super) depth: Option<TissueDepth>,
    /// The record says that it is there; `None` when it does not say.
    pub(super) is_active: Option<bool>,
    /// What further published codes of the condition say.
    pub(super) states: Vec<State>,
}

#[derive(Debug, Clone)]
pub(super) struct State {
    pub(super) entry: &'static CodeEntry,
    pub(super) side: Option<Side>,
    pub(super) onset: Option<WrittenDate>,
}

#[derive(Debug, Default)]
pub(super) struct Observation {
    pub(super) lesion: Option<String>,
    pub(super) side: Option<Side>,
    pub(super) site: Option<FootSite>,
    pub(super) panel: Option<Panel>,
    pub(super) items: Vec<Item>,
}

/// One answer.
#[derive(Debug, Clone)]
pub(super) struct Item {
    /// Position among the fields of the profile.
    pub(super) field: usize,
    pub(super) value: Answer,
    /// The element it stands in.
    pub(super) element: &'static str,
}

/// An answer as the standard types it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Answer {
    Number(f64, Option<Unit>),
    Flag(bool),
    /// Our word, or a code kept as it is.
    Word(String),
    Date(WrittenDate),
}

#[derive(Debug)]
pub(super) struct Event {
    pub(super) kind: EventKind,
    pub(super) height: Option<AmputationHeight>,
    pub(super) side: Option<Side>,
    pub(super) lesion: Option<String>,
    pub(super) is_staged: bool,
    /// Observations that a report rests on, which may name the side.
    pub(super) results: Vec<String>,
}

/// A finding about an element that counts as missing.
pub(super) fn ignored(fault: CellFault, element: &str, source: SourceRow) -> Finding {
    noticed(fault, Severity::CellIgnored, element, source)
}

/// A finding about an element.
pub(super) fn noticed(
    fault: CellFault,
    severity: Severity,
    element: &str,
    source: SourceRow,
) -> Finding {
    let finding = Finding::on_row(fault.check, severity, source, fault.message);
    Finding {
        hint: fault.hint,
        ..finding.in_column(element)
    }
}

/// A fault of an element, in a line.
pub(super) const fn fault(check: &'static str, message: &'static str) -> CellFault {
    CellFault {
        check,
        message,
        hint: None,
    }
}
