use super::new_ulcers::{is_surgical, process_rule};
use crate::derive::Reading;
use crate::measure::{Answer, Measure, Method, Place, Study};
use crate::report::Unit;
use crate::rules::Rule;
use crate::tables::{NameId, SeenBy, Side, UlcerObservation};
use chrono::NaiveDate;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "culture-before-repeat-antibiotic",
    family: "process",
    title: "Culture before a repeat antibiotic course",
    words: "Of antibiotic courses begun for an ulcer that had had one before, the share with a swab or tissue sent for culture on the day the new course began, or before it since the earlier one began. A course ends when a visit records that none is taken.",
    numerator: "repeat courses with a culture",
    denominator: "repeat antibiotic courses begun in the quarter",
    exclusions: "surgical wounds; first courses; courses of which no visit in between recorded that none was taken, which count as one",
    source: "Rule of this project, after the advice to culture deep tissue before treatment: IDSA 2012, IWGDF/IDSA 2023 (from memory)",
    caution: "Courses begun elsewhere between two visits are not seen. A swab of the surface and a sample of deep tissue look the same here.",
    context: &[],
    direction: "better",
    reading: "Of 100 further courses for the same ulcer, before how many somebody sent a culture.",
    unit: Unit::Share,
    rule: Rule {
        clock: "the day a repeat course began",
        ..process_rule(0)
    },
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    let mut answers = Vec::new();
    for person in study.people {
        let rows = person.person.observations;
        let mut ulcers: Vec<(Side, NameId)> =
            rows.iter().map(|row| (row.side, row.label)).collect();
        ulcers.sort_unstable();
        ulcers.dedup();
        for (side, label) in ulcers {
            // Which courses there are, and which are repeats, is settled by earlier rows: later ones change none of them.
            for day in repeat_days(&told(rows, side, label)) {
                let reading = person.reading_at(&study.view(day, rule.horizon_days));
                answers.extend(answer(&reading, side, label, day));
            }
        }
    }
    answers
}

/// Rows of one ulcer, as a clinician saw it, that say whether an antibiotic is taken, by date.
fn told(rows: &[UlcerObservation], side: Side, label: NameId) -> Vec<&UlcerObservation> {
    let is_told = |row: &&UlcerObservation| {
        (row.side, row.label) == (side, label)
            && row.seen_by == SeenBy::Clinician
            && row.antibiotic.is_some()
    };
    rows.iter().filter(is_told).collect()
}

/// Days on which a further course began.
fn repeat_days(told: &[&UlcerObservation]) -> Vec<NaiveDate> {
    starts(told).into_iter().skip(1).collect()
}

/// Days on which a course began: an antibiotic is taken and was not at the visit before.
fn starts(told: &[&UlcerObservation]) -> Vec<NaiveDate> {
    let mut was_taken = false;
    let mut starts = Vec::new();
    for of_day in told.chunk_by(|one, other| one.date == other.date) {
        let is_taken = of_day.iter().any(|row| row.antibiotic == Some(true));
        if is_taken && !was_taken {
            starts.extend(of_day.first().map(|row| row.date));
        }
        was_taken = is_taken;
    }
    starts
}

fn answer(reading: &Reading<'_>, side: Side, label: NameId, day: NaiveDate) -> Option<Answer> {
    let rows = reading.person.observations;
    let starts = starts(&told(rows, side, label));
    let position = starts.iter().position(|start| *start == day)?;
    let before = starts.get(position.checked_sub(1)?)?;
    let own = rows.iter().filter(|row| {
        (row.side, row.label) == (side, label)
            && row.seen_by == SeenBy::Clinician
            && row.date > *before
            && row.date <= day
    });
    let index = own.clone().find(|row| row.date == day)?;
    if is_surgical(rows, side, label, day) {
        return None;
    }
    Some(Answer {
        cluster: index.patient,
        index: crate::tables::Dated::new(index.date, index.source),
        place: Some(Place::ulcer(side, label)),
        is_yes: super::new_ulcers::any_yes(own.map(|row| row.cultured)),
    })
}
