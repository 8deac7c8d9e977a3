//! Things out of order in time: onsets after a visit, rows after a death, amputations of no leg.

use super::{found, severity};
use crate::finding::Finding;
use crate::tables::{Attendance, EventKind, Tables, Visit};

/// An onset told at a visit cannot lie after it. The cell counts as missing.
pub(super) fn onset_after_first_visit(tables: &mut Tables, findings: &mut Vec<Finding>) {
    for row in &mut tables.ulcer_observations {
        if row.onset.is_some_and(|onset| onset.dated.date > row.date) {
            row.onset = None;
            findings.push(
                Finding::on_row(
                    "onset-after-first-visit",
                    severity("onset-after-first-visit"),
                    row.source,
                    "the onset lies after the visit; it counts as missing",
                )
                .with_hint("compare day and month of both dates"),
            );
        }
    }
}

/// Nobody is seen after death.
pub(super) fn rows_after_death(tables: &Tables, findings: &mut Vec<Finding>) {
    let mut deaths: Vec<_> = tables
        .patients
        .iter()
        .map(|patient| patient.death.map(|death| death.date))
        .collect();
    for event in tables
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Death)
    {
        let known = &mut deaths[event.patient.0 as usize];
        *known = Some(known.map_or(event.date, |date| date.min(event.date)));
    }
    let seen = tables
        .visits
        .iter()
        .filter(|visit| visit.attendance == Attendance::Kept)
        .map(|visit| (visit.patient, visit.date, visit.source));
    let observed = tables
        .ulcer_observations
        .iter()
        .map(|row| (row.patient, row.date, row.source));
    let mut late: Vec<_> = seen
        .chain(observed)
        .filter(|(patient, date, _)| deaths[patient.0 as usize].is_some_and(|death| *date > death))
        .map(|(_, _, source)| source)
        .collect();
    late.sort_unstable();
    late.dedup();
    findings.extend(late.into_iter().map(|source| {
        Finding::on_row(
            "row-after-death",
            severity("row-after-death"),
            source,
            "the row is dated after the recorded death",
        )
        .with_hint("one of the two dates is wrong")
    }));
}

/// An amputation belongs to a leg.
pub(super) fn amputations_without_side(tables: &Tables, findings: &mut Vec<Finding>) {
    let amputations = [EventKind::MinorAmputation, EventKind::MajorAmputation];
    for event in &tables.events {
        if amputations.contains(&event.kind) && event.side.is_none() {
            findings.push(
                Finding::on_row(
                    "amputation-without-side",
                    severity("amputation-without-side"),
                    event.source,
                    "the amputation has no side and is not counted",
                )
                .with_hint("add the side in the clinic's own records and export again"),
            );
        }
    }
}

/// Visits of one person against each other and against what was planned.
pub(super) fn visits(tables: &Tables, findings: &mut Vec<Finding>) {
    let kept: Vec<&Visit> = tables
        .visits
        .iter()
        .filter(|visit| visit.attendance == Attendance::Kept)
        .collect();
    for pair in kept.windows(2) {
        let [first, second] = pair else { continue };
        if (first.patient, first.date) == (second.patient, second.date) {
            let message = "another kept visit of this person has the same date";
            findings.push(
                found("two-visits-on-one-day", second.source, message).with_hint(
                    "two clinicians may have seen the person, or a row was exported twice",
                ),
            );
        }
    }
    for visit in &tables.visits {
        if visit.planned_return.is_some_and(|date| date < visit.date) {
            let message = "the planned return lies before the visit";
            findings.push(
                found("planned-return-before-visit", visit.source, message)
                    .with_hint("compare day and month of both dates"),
            );
        }
    }
}
