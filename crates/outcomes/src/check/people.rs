//! What is said about a person, held against the rows of that person.

use super::found;
use crate::finding::Finding;
use crate::tables::{Attendance, Tables};
use chrono::{Datelike, NaiveDate};

const YOUNGEST: i32 = 18;
const OLDEST: i32 = 110;

/// First and last day on which something was recorded of each person.
struct Spans {
    rows: Vec<Option<(NaiveDate, NaiveDate)>>,
    kept: Vec<Option<(NaiveDate, NaiveDate)>>,
}

fn spans(tables: &Tables) -> Spans {
    let widen = |span: &mut Option<(NaiveDate, NaiveDate)>, date: NaiveDate| {
        *span = Some(span.map_or((date, date), |(first, last)| {
            (first.min(date), last.max(date))
        }));
    };
    let mut rows = vec![None; tables.patients.len()];
    let mut kept = vec![None; tables.patients.len()];
    for visit in &tables.visits {
        if let Some(span) = rows.get_mut(visit.patient.0 as usize) {
            widen(span, visit.date);
        }
        if let (Attendance::Kept, Some(span)) =
            (visit.attendance, kept.get_mut(visit.patient.0 as usize))
        {
            widen(span, visit.date);
        }
    }
    for row in &tables.ulcer_observations {
        if let Some(span) = rows.get_mut(row.patient.0 as usize) {
            widen(span, row.date);
        }
    }
    Spans { rows, kept }
}

/// Diabetes is found between birth and the last row. Another year counts as missing.
pub(super) fn years_of_diabetes(tables: &mut Tables, findings: &mut Vec<Finding>) {
    let spans = spans(tables);
    for (patient, span) in tables.patients.iter_mut().zip(&spans.rows) {
        let Some(year) = patient.diabetes_year else {
            continue;
        };
        let is_early = patient.birth_year.is_some_and(|birth| year < birth);
        let is_late = span.is_some_and(|(_, last)| year > last.year());
        if is_early || is_late {
            patient.diabetes_year = None;
            let message = "the year diabetes was found lies before birth or after the last row; it counts as missing";
            findings.push(
                found("diabetes-year-impossible", patient.source, message)
                    .with_hint("compare it with the year of birth"),
            );
        }
    }
}

/// Ages and contacts.
pub(super) fn check_people(tables: &Tables, findings: &mut Vec<Finding>) {
    let spans = spans(tables);
    for ((patient, rows), kept) in tables.patients.iter().zip(&spans.rows).zip(&spans.kept) {
        if let (Some(birth), Some((first, last))) = (patient.birth_year, rows)
            && (first.year() - birth < YOUNGEST || last.year() - birth > OLDEST)
        {
            let message = "the year of birth makes the person younger than 18 or older than 110";
            findings.push(
                found("unlikely-age", patient.source, message)
                    .with_hint("a year of two digits may have been put into the wrong century"),
            );
        }
        let Some((first, last)) = kept else { continue };
        if patient.last_contact.is_some_and(|contact| contact < *last) {
            let message = "the last contact lies before the last kept visit";
            findings.push(
                found("last-contact-before-last-visit", patient.source, message)
                    .with_hint("the later of the two is taken"),
            );
        }
        if let Some(contact) = patient
            .first_contact
            .filter(|contact| contact.date > *first)
        {
            let message = "the first contact lies after the first visit";
            findings.push(
                found("first-contact-after-first-visit", contact.source, message)
                    .with_hint("it may belong to a later ulcer, or day and month may be swapped"),
            );
        }
    }
}
