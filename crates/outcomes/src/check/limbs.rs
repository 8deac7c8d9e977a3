//! Feet that are no longer there.

use super::found;
use crate::derive::{people, removed_untold};
use crate::finding::Finding;
use crate::tables::{
    AmputationLevel, EventKind, PatientKey, Region, Side, SourceRow, Tables, UlcerState,
};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// An open foot ulcer, or an examined foot, after the leg was amputated.
pub(super) fn feet_seen_after_major_amputation(tables: &Tables, findings: &mut Vec<Finding>) {
    let lost = lost_legs(tables);
    if lost.is_empty() {
        return;
    }
    let is_late = |patient, side, date| lost.get(&(patient, side)).is_some_and(|at| date > *at);
    let ulcers = tables
        .ulcer_observations
        .iter()
        .filter(|row| {
            let is_elsewhere = row
                .site
                .is_some_and(|site| matches!(site.region, Region::Stump | Region::AboveFoot));
            row.state == Some(UlcerState::Open)
                && !is_elsewhere
                && is_late(row.patient, row.side, row.date)
        })
        .map(|row| row.source);
    let exams = tables
        .foot_exams
        .iter()
        .filter(|row| {
            let is_examined =
                row.sensation.is_some() || row.pulses.is_some() || row.toe_mmhg.is_some();
            is_examined && is_late(row.patient, row.side, row.date)
        })
        .map(|row| row.source);
    let mut late: Vec<SourceRow> = ulcers.chain(exams).collect();
    late.sort_unstable();
    late.dedup();
    findings.extend(late.into_iter().map(|source| {
        let message = "a foot was seen whose leg was amputated before";
        found("foot-seen-after-major-amputation", source, message)
            .with_hint("compare the sides of both rows; an ulcer of the stump has the site `stump`")
    }));
}

/// An ulcer found removed without any row of its operation.
pub(super) fn removed_without_amputation_row(tables: &Tables, findings: &mut Vec<Finding>) {
    if !(tables.ulcer_observations.iter()).any(|row| row.state == Some(UlcerState::Excised)) {
        return;
    }
    for person in people(tables) {
        for row in removed_untold(person.observations, person.events) {
            let message = "the ulcer was found removed, and no amputation of that leg is recorded since it was last seen; \
                           it counts as one of this day";
            findings.push(
                found("removed-without-amputation-row", row.source, message).with_hint(
                    "look for an amputation whose date or side could not be read, or export its row",
                ),
            );
        }
    }
}

/// The day from which a leg is known to be lost: the operation, or the row that told it as history.
fn lost_legs(tables: &Tables) -> BTreeMap<(PatientKey, Side), NaiveDate> {
    let operated = tables
        .events
        .iter()
        .filter(|event| event.kind == EventKind::MajorAmputation)
        .filter_map(|event| Some(((event.patient, event.side?), event.date)));
    let history = tables
        .patients
        .iter()
        .zip(0..)
        .flat_map(|(patient, number)| {
            patient
                .prior_amputations
                .iter()
                .filter(|prior| prior.level == AmputationLevel::Major)
                .filter_map(move |prior| {
                    Some(((PatientKey(number), prior.side?), prior.recorded.date))
                })
        });
    let mut lost = BTreeMap::new();
    for (leg, date) in operated.chain(history) {
        lost.entry(leg)
            .and_modify(|first: &mut NaiveDate| *first = date.min(*first))
            .or_insert(date);
    }
    lost
}
