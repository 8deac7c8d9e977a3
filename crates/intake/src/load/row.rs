//! One record: what it says, or the one reason it is set aside.

use super::bind::BoundPlan;
use super::blocks;
use super::cells::{self, CellFault, FINER_THAN_DECLARED, Row, fill};
use super::meanings::Meanings;
use crate::fields::{PatientFacts, VisitDraft};
use crate::layout::{Role, RowKind};
use crate::units::Numbers;
use chrono::{Datelike, NaiveDate};
use outcomes::finding::{Finding, Severity};
use outcomes::rules::{DataHorizon, Quarter};
use outcomes::tables::{
    Attendance, Event, EventKind, FootExam, Names, SeenBy, SourceRow, UlcerObservation,
};
use std::borrow::Cow;

/// Everything one record says. Rows carry a stand-in for the patient until the record is accepted.
pub(crate) struct RowContent {
    /// The date the row is about; a row about a person only has none.
    pub(crate) date: Option<NaiveDate>,
    /// The quarter it truly lies in, where the export carries it.
    pub(crate) quarter: Option<Quarter>,
    pub(crate) is_administrative: bool,
    pub(crate) facts: PatientFacts,
    /// `None` when the row is no attendance.
    pub(crate) visit: Option<VisitContent>,
    pub(crate) exams: Vec<FootExam>,
    pub(crate) ulcers: Vec<UlcerObservation>,
    pub(crate) events: Vec<Event>,
}

impl RowContent {
    /// Whether the row says that the person died.
    pub(crate) fn tells_death(&self) -> bool {
        self.facts.death.is_some()
            || self
                .events
                .iter()
                .any(|event| event.kind == EventKind::Death)
    }
}

/// An attendance.
pub(crate) struct VisitContent {
    pub(crate) attendance: Attendance,
    pub(crate) draft: VisitDraft,
}

/// Why a record is set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct RowFault {
    pub(crate) check: &'static str,
    pub(crate) message: Cow<'static, str>,
    pub(crate) position: Option<usize>,
    pub(crate) hint: Option<String>,
}

impl RowFault {
    pub(crate) const fn new(check: &'static str, message: &'static str) -> Self {
        Self {
            check,
            message: Cow::Borrowed(message),
            position: None,
            hint: None,
        }
    }

    /// A fault whose words are made for the record.
    pub(crate) fn told(check: &'static str, message: String) -> Self {
        Self {
            message: Cow::Owned(message),
            ..Self::new(check, "")
        }
    }

    pub(crate) fn at(self, position: Option<usize>) -> Self {
        Self { position, ..self }
    }

    pub(crate) fn with_hint(self, hint: impl Into<String>) -> Self {
        Self {
            hint: Some(hint.into()),
            ..self
        }
    }
}

/// What reading a row may add to.
pub(crate) struct Notes<'n> {
    pub(crate) names: &'n mut Names,
    pub(crate) findings: &'n mut Vec<Finding>,
    pub(crate) numbers: &'n mut Numbers,
    pub(crate) meanings: &'n mut Meanings,
}

/// Reads one record whose shape has been checked.
pub(crate) fn read_row<'r>(
    plan: &BoundPlan<'r>,
    row: &Row<'r>,
    horizon: &DataHorizon,
    notes: &mut Notes<'_>,
) -> Result<RowContent, RowFault> {
    let kind = row_kind(plan, row, notes);
    let date = row_date(plan, row, horizon, notes.meanings)?;
    let mut facts = PatientFacts::default();
    fill(&mut facts, &plan.patient, row, notes);
    facts.strata = cells::strata(&plan.strata, row, notes);
    let mut content = RowContent {
        date,
        quarter: carried_quarter(plan, row, notes),
        is_administrative: kind == RowKind::Administrative,
        facts,
        visit: None,
        exams: Vec::new(),
        ulcers: Vec::new(),
        events: Vec::new(),
    };
    let Some(date) = date else { return Ok(content) };
    if let (RowKind::Attendance(attendance), true) = (kind, plan.plan.visit.is_some()) {
        let mut draft = VisitDraft::default();
        fill(&mut draft, &plan.visit, row, notes);
        content.visit = Some(VisitContent { attendance, draft });
    }
    content.exams = blocks::exams(plan, row, date, notes)?;
    content.ulcers = blocks::ulcers(plan, row, date, notes)?;
    content.events = blocks::events(plan, row, date, horizon, &mut content.facts, notes)?;
    if kind != RowKind::Attendance(Attendance::Kept) {
        drop_examinations(&mut content, row, notes);
    }
    Ok(content)
}

/// Birth is known to the year only.
pub(crate) fn is_before_birth(date: NaiveDate, birth_year: Option<i32>) -> bool {
    birth_year.is_some_and(|year| date.year() < year)
}

/// Whether a row of a visit file is no attendance; codes nobody knows are kept visits.
pub(crate) fn is_administrative(plan: &BoundPlan<'_>, row: &Row<'_>) -> bool {
    plan.attendance.as_ref().is_some_and(|attendance| {
        row.at(attendance.position).is_some_and(|text| {
            attendance.codes.codes.iter().any(|(code, kind)| {
                *kind == RowKind::Administrative && code.eq_ignore_ascii_case(text)
            })
        })
    })
}

fn row_kind(plan: &BoundPlan<'_>, row: &Row<'_>, notes: &mut Notes<'_>) -> RowKind {
    let kept = RowKind::Attendance(Attendance::Kept);
    let Some(attendance) = &plan.attendance else {
        return kept;
    };
    let Some(text) = row.at(attendance.position) else {
        return kept;
    };
    let known = attendance
        .codes
        .codes
        .iter()
        .find(|(code, _)| code.eq_ignore_ascii_case(text));
    known.map_or_else(
        || {
            let fault = CellFault {
                check: "unknown-code",
                message: "a code that [attendance] does not know; the row counts as a kept visit",
                hint: Some("add it to the layout".to_owned()),
            };
            notes
                .findings
                .push(row.cell_finding(Some(attendance.position), fault));
            kept
        },
        |(_, kind)| *kind,
    )
}

fn row_date(
    plan: &BoundPlan<'_>,
    row: &Row<'_>,
    horizon: &DataHorizon,
    meanings: &mut Meanings,
) -> Result<Option<NaiveDate>, RowFault> {
    let Some(bound) = &plan.date else {
        return Ok(None);
    };
    let is_event = plan.plan.role == Role::Events;
    let choose = |of_event, of_visit| if is_event { of_event } else { of_visit };
    let Some(text) = row.text(bound) else {
        let check = choose("no-event-date", "no-visit-date");
        return Err(RowFault::new(check, "the row has no date").at(bound.position));
    };
    let date = meanings.date(row, bound, text).map_err(|fault| RowFault {
        check: match fault.check {
            FINER_THAN_DECLARED => FINER_THAN_DECLARED,
            _ => choose("unreadable-event-date", "unreadable-visit-date"),
        },
        message: Cow::Borrowed(match fault.check {
            FINER_THAN_DECLARED => fault.message,
            _ => "the date of the row cannot be read",
        }),
        position: bound.position,
        hint: fault.hint,
    })?;
    if date > horizon.cut_off {
        let check = choose("event-after-data-cut-off", "visit-after-data-cut-off");
        return Err(
            RowFault::new(check, "the row is dated after the declared data cut-off")
                .at(bound.position),
        );
    }
    Ok(Some(date))
}

fn carried_quarter(plan: &BoundPlan<'_>, row: &Row<'_>, notes: &mut Notes<'_>) -> Option<Quarter> {
    let bound = plan.quarter.as_ref()?;
    let text = row.text(bound)?;
    let quarter = Quarter::parse(text);
    if quarter.is_none() {
        let fault = CellFault {
            check: "unreadable-quarter",
            message: "not a quarter; the cell counts as missing",
            hint: Some("quarters are written as 2025Q3 or 2025-Q3".to_owned()),
        };
        notes.findings.push(row.cell_finding(bound.position, fault));
    }
    quarter
}

/// Nobody was examined at a visit that did not take place; what others reported stays.
fn drop_examinations(content: &mut RowContent, row: &Row<'_>, notes: &mut Notes<'_>) {
    let n_before = content.exams.len() + content.ulcers.len();
    content.exams.clear();
    content
        .ulcers
        .retain(|seen| seen.seen_by != SeenBy::Clinician);
    if content.ulcers.len() < n_before {
        let fault = CellFault {
            check: "examination-without-attendance",
            message: "an examination on a row that says nobody attended is left out",
            hint: Some("correct the attendance, or name who reported it".to_owned()),
        };
        notes.findings.push(row.cell_finding(None, fault));
    }
}

/// A finding about a record that is set aside.
pub(crate) fn set_aside(fault: RowFault, headers: &[String], source: SourceRow) -> Finding {
    let finding = Finding::on_row(fault.check, Severity::SetAside, source, fault.message);
    let finding = match fault.position.and_then(|position| headers.get(position)) {
        Some(header) => finding.in_column(header.as_str()),
        None => finding,
    };
    Finding {
        hint: fault.hint,
        ..finding
    }
}
