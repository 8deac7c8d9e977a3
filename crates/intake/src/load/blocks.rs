//! The repeated blocks of a record: foot examinations, ulcers, events.

use super::bind::{Bound, BoundPlan};
use super::cells::{CellFault, Row, fill};
use super::coding;
use super::row::{Notes, RowFault};
use crate::fields::{EventDraft, ExamDraft, PatientFacts, UlcerDraft};
use crate::layout::Role;
use chrono::NaiveDate;
use outcomes::finding::{Finding, Severity};
use outcomes::rules::DataHorizon;
use outcomes::tables::{
    AmputationHeight, AmputationLevel, Event, EventKind, FootExam, NameId, PatientKey, Side,
    UlcerObservation, UlcerState,
};

/// A stand-in until the person is known.
const NOBODY: PatientKey = PatientKey(u32::MAX);

/// Why a block makes no row.
struct Unusable {
    check: &'static str,
    message: &'static str,
}

/// Foot examinations of a record.
pub(super) fn exams<'r>(
    plan: &BoundPlan<'r>,
    row: &Row<'r>,
    date: NaiveDate,
    notes: &mut Notes<'_>,
) -> Result<Vec<FootExam>, RowFault> {
    let mut rows = Vec::new();
    for block in &plan.exams {
        let exam = FootExam::new(NOBODY, date, Side::Left, row.source);
        let mut draft = ExamDraft { side: None, exam };
        let n_present = fill(&mut draft, &block.fields, row, notes);
        let n_beyond_side = n_present - usize::from(draft.side.is_some() && n_present > 0);
        if n_beyond_side == 0 && !is_own_file(plan, Role::FootExams) {
            continue;
        }
        let side = block.side.or(draft.side).ok_or(Unusable {
            check: "no-side",
            message: "an examination that names no foot is left out",
        });
        let exam = side.map(|side| FootExam { side, ..draft.exam });
        rows.extend(usable(exam, plan, Role::FootExams, row, notes)?);
    }
    Ok(rows)
}

/// Ulcers of a record.
pub(super) fn ulcers<'r>(
    plan: &BoundPlan<'r>,
    row: &Row<'r>,
    date: NaiveDate,
    notes: &mut Notes<'_>,
) -> Result<Vec<UlcerObservation>, RowFault> {
    let mut rows = Vec::new();
    for slot in &plan.ulcers {
        let seen =
            UlcerObservation::new(NOBODY, date, Side::Left, NameId::at(u32::MAX), row.source);
        let mut draft = UlcerDraft {
            label: None,
            side: None,
            diagnosis: None,
            seen,
        };
        let n_present = fill(&mut draft, slot, row, notes);
        if n_present == 0 && !is_own_file(plan, Role::UlcerObservations) {
            continue;
        }
        coding::diagnose(&mut draft, date, row, notes);
        let ulcer = placed(draft).map(|seen| without_impossible_sizes(seen, slot, row, notes));
        rows.extend(usable(ulcer, plan, Role::UlcerObservations, row, notes)?);
    }
    Ok(rows)
}

/// Events of a record.
pub(super) fn events<'r>(
    plan: &BoundPlan<'r>,
    row: &Row<'r>,
    row_date: NaiveDate,
    horizon: &DataHorizon,
    facts: &mut PatientFacts,
    notes: &mut Notes<'_>,
) -> Result<Vec<Event>, RowFault> {
    let mut rows = Vec::new();
    for slot in &plan.events {
        let mut draft = EventDraft::default();
        let n_present = fill(&mut draft, slot, row, notes);
        if n_present == 0 && !is_own_file(plan, Role::Events) {
            continue;
        }
        if !slot.iter().any(|bound| bound.field.name == "date") {
            draft.date = Some(row_date);
        }
        let told = coding::code_event(&mut draft, row_date, facts, row, notes);
        if draft.kind.is_none() && told.is_settled(is_own_file(plan, Role::Events))? {
            continue;
        }
        let event = happened(&draft, row, horizon);
        if event
            .as_ref()
            .is_ok_and(|event| !is_level_consistent(event, draft.level))
        {
            let message =
                "the level or height of an amputation contradicts its kind; the kind stands";
            notes.findings.push(Finding::on_row(
                "contradicting-amputation-level",
                Severity::Note,
                row.source,
                message,
            ));
        }
        rows.extend(usable(event, plan, Role::Events, row, notes)?);
    }
    Ok(rows)
}

fn is_own_file(plan: &BoundPlan<'_>, role: Role) -> bool {
    plan.plan.role == role
}

/// In a file of its own a block that cannot be used leaves nothing of the row; elsewhere the rest of the row is used.
fn usable<T>(
    block: Result<T, Unusable>,
    plan: &BoundPlan<'_>,
    own: Role,
    row: &Row<'_>,
    notes: &mut Notes<'_>,
) -> Result<Option<T>, RowFault> {
    match block {
        Ok(block) => Ok(Some(block)),
        Err(Unusable { check, message }) if is_own_file(plan, own) => {
            Err(RowFault::new(check, message))
        }
        Err(Unusable { check, message }) => {
            notes.findings.push(row.cell_finding(
                None,
                CellFault {
                    check,
                    message,
                    hint: None,
                },
            ));
            Ok(None)
        }
    }
}

fn placed(draft: UlcerDraft) -> Result<UlcerObservation, Unusable> {
    let label = draft.label.ok_or(Unusable {
        check: "no-ulcer-label",
        message: "an ulcer without a label cannot be followed and is left out",
    })?;
    let side = draft.side.ok_or(Unusable {
        check: "no-side",
        message: "an ulcer without a side cannot be placed and is left out",
    })?;
    Ok(UlcerObservation {
        label,
        side,
        ..draft.seen
    })
}

/// An open ulcer has a size.
fn without_impossible_sizes(
    mut seen: UlcerObservation,
    slot: &[Bound<'_, UlcerDraft>],
    row: &Row<'_>,
    notes: &mut Notes<'_>,
) -> UlcerObservation {
    if seen.state != Some(UlcerState::Open) {
        return seen;
    }
    let sizes = [
        ("length", &mut seen.length_cm),
        ("width", &mut seen.width_cm),
        ("area", &mut seen.area_cm2),
    ];
    for (name, size) in sizes {
        if size.is_some_and(|size| size <= 0.0) {
            *size = None;
            let bound = slot.iter().find(|bound| bound.field.name == name);
            let fault = CellFault {
                check: "value-out-of-range",
                message: "an open ulcer without size; the cell counts as missing",
                hint: Some("a healed ulcer should have the state closed".to_owned()),
            };
            notes
                .findings
                .push(row.cell_finding(bound.and_then(|bound| bound.cell.position), fault));
        }
    }
    seen
}

fn happened(draft: &EventDraft, row: &Row<'_>, horizon: &DataHorizon) -> Result<Event, Unusable> {
    let kind = draft.kind.ok_or(Unusable {
        check: "no-event-kind",
        message: "an event that does not say what happened is left out",
    })?;
    let date = draft.date.ok_or(Unusable {
        check: "no-event-date",
        message: "an event without a readable date is left out",
    })?;
    if date > horizon.cut_off {
        return Err(Unusable {
            check: "event-after-data-cut-off",
            message: "an event dated after the declared data cut-off is left out",
        });
    }
    Ok(Event {
        patient: NOBODY,
        date,
        kind,
        side: draft.side,
        ulcer_label: draft.label,
        is_staged: draft.is_staged.unwrap_or(false),
        height: draft.height,
        source: row.source,
    })
}

fn is_level_consistent(event: &Event, level: Option<AmputationLevel>) -> bool {
    let of_kind = match event.kind {
        EventKind::MinorAmputation => AmputationLevel::Minor,
        EventKind::MajorAmputation => AmputationLevel::Major,
        _ => return true,
    };
    let stated = [level, event.height.map(AmputationHeight::level)];
    stated.iter().flatten().all(|stated| *stated == of_kind)
}
