//! What can only be done when every row is known: the order of people, and rows dated after the death of their person.

use super::cells::FINER_THAN_DECLARED;
use super::row::{RowFault, set_aside};
use super::tables::Loading;
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{Dated, EventKind, PatientKey, SourceRow};
use std::collections::BTreeSet;

/// An export declared to tell years only that tells days was not made as its makers believe, so nothing of it is printed.
pub(super) fn stop_at_finer_dates(loading: &mut Loading<'_>) {
    let finer = |finding: &&Finding| finding.check == FINER_THAN_DECLARED;
    let n: u64 = (loading.findings.iter().filter(finer))
        .map(|finding| finding.n)
        .sum();
    if n == 0 {
        return;
    }
    let column = (loading.findings.iter().find(finer)).and_then(|first| first.column.clone());
    loading.findings.push(Finding {
        n: 1,
        check: FINER_THAN_DECLARED,
        severity: Severity::Stop,
        source: None,
        column,
        message: format!(
            "dates that tell more than the year stand in at least {n} cells or rows, although the layout declares years only"
        ),
        hint: Some(
            "cut dates to the year in the export, or declare in [dates] of the layout what they are".to_owned(),
        ),
    });
}

/// Puts people in the order of their ids, so that neither the order of rows nor that of files changes a seeded draw.
pub(super) fn in_order_of_id(loading: &mut Loading<'_>) {
    let tables = &mut loading.tables;
    let mut order: Vec<usize> = (0..tables.patients.len()).collect();
    let id = |place: &usize| tables.patients.get(*place).map(|patient| &patient.id);
    order.sort_by(|one, other| id(one).cmp(&id(other)));
    let mut places = vec![0_u32; order.len()];
    for (new, old) in (0_u32..).zip(&order) {
        if let Some(place) = places.get_mut(*old) {
            *place = new;
        }
    }
    let mut people: Vec<_> = std::mem::take(&mut tables.patients)
        .into_iter()
        .zip(&places)
        .collect();
    people.sort_by_key(|(_, place)| **place);
    tables.patients = people.into_iter().map(|(patient, _)| patient).collect();
    let renumber = |key: &mut PatientKey| {
        if let Some(place) = places.get(key.0 as usize) {
            *key = PatientKey(*place);
        }
    };
    (tables.visits.iter_mut()).for_each(|row| renumber(&mut row.patient));
    (tables.foot_exams.iter_mut()).for_each(|row| renumber(&mut row.patient));
    (tables.ulcer_observations.iter_mut()).for_each(|row| renumber(&mut row.patient));
    (tables.events.iter_mut()).for_each(|row| renumber(&mut row.patient));
    (loading.administrative.iter_mut()).for_each(|(patient, _)| renumber(patient));
}

/// Sets aside every row that sees a person after death. What such a row said about the person stays, and that the
/// person died: it may be the row that told the death. A row without attendance is only noted, and only when it does
/// not tell the death.
pub(super) fn set_aside_after_death(loading: &mut Loading<'_>) {
    let deaths: Vec<Option<Dated>> = loading
        .tables
        .patients
        .iter()
        .map(|patient| patient.death)
        .collect();
    let death = |patient: PatientKey| deaths.get(patient.0 as usize).copied().flatten();
    let is_late = |patient, date| death(patient).is_some_and(|death| date > death.date);

    let tables = &mut loading.tables;
    let seen = tables
        .visits
        .iter()
        .map(|row| (row.patient, row.date, row.source));
    let examined = tables
        .foot_exams
        .iter()
        .map(|row| (row.patient, row.date, row.source));
    let observed = tables
        .ulcer_observations
        .iter()
        .map(|row| (row.patient, row.date, row.source));
    let late: BTreeSet<SourceRow> = seen
        .chain(examined)
        .chain(observed)
        .filter(|(patient, date, _)| is_late(*patient, *date))
        .map(|(_, _, source)| source)
        .collect();

    for (patient, row) in &loading.administrative {
        if is_late(*patient, row.date) {
            let message = "an administrative row is dated after the recorded death";
            loading.findings.push(Finding::on_row(
                "visit-after-death",
                Severity::Note,
                row.source,
                message,
            ));
        }
    }
    if late.is_empty() {
        return;
    }
    tables.visits.retain(|row| !late.contains(&row.source));
    tables.foot_exams.retain(|row| !late.contains(&row.source));
    tables
        .ulcer_observations
        .retain(|row| !late.contains(&row.source));
    tables
        .events
        .retain(|row| !late.contains(&row.source) || row.kind == EventKind::Death);
    loading.listing.take_back(&mut loading.findings, &late);

    for source in late {
        let fault = RowFault::new(CHECK, "the row is dated after the recorded death")
            .with_hint("one of the two dates is wrong");
        set_aside_used(loading, fault, source);
    }
}

/// Sets a row aside that was booked as used.
pub(super) fn set_aside_used(loading: &mut Loading<'_>, fault: RowFault, source: SourceRow) {
    if let Some(account) = loading.accounts.get_mut(usize::from(source.file)) {
        account.n_used = account.n_used.saturating_sub(1);
        let bytes = loading.record_bytes.get(usize::from(source.file));
        let n_bytes = bytes.map_or(0, |bytes| bytes.of(source.record));
        account.text_bytes.used = account.text_bytes.used.saturating_sub(n_bytes);
        account.text_bytes.set_aside += n_bytes;
        let known = account.set_aside.iter_mut();
        match known.into_iter().find(|(check, _)| check == fault.check) {
            Some((_, n)) => *n += 1,
            None => account.set_aside.push((fault.check.to_owned(), 1)),
        }
        account.set_aside.sort();
    }
    loading.findings.push(set_aside(fault, &[], source));
}

const CHECK: &str = "visit-after-death";
