//! Questions about new ulcers: one answer an ulcer, from rows up to the horizon after its first visit.

use crate::derive::{Episode, Reading, View};
use crate::measure::{Answer, Banded, ClassPlace, Place, Study};
use crate::rules::{Censoring, KnownRule, Rule, UnitOfAnalysis, days_after};
use crate::tables::{Aspect, EventKind, FootExam, NameId, Origin, SeenBy, Side, UlcerObservation};
use chrono::NaiveDate;

/// The rule of a question that is settled so many days after the first visit.
pub(super) const fn process_rule(horizon_days: i64) -> Rule {
    Rule {
        unit: UnitOfAnalysis::Ulcer,
        clock: "the ulcer's first visit here",
        entry_day: 0,
        event: &[],
        competing: &[],
        censoring: Censoring::Nothing,
        known: KnownRule::KnownOnly,
        horizon_days,
    }
}

/// One answer for each new ulcer; `ask` gives `None` for an ulcer that the question does not concern.
pub(super) fn answers(
    study: &Study<'_>,
    rule: &Rule,
    ask: fn(&Reading<'_>, &Episode, &View<'_>) -> Option<Option<bool>>,
) -> Vec<Answer> {
    of_each(study, rule, |reading, ulcer, view| {
        Some(Answer {
            cluster: ulcer.patient,
            index: ulcer.index,
            place: Some(Place::ulcer(ulcer.side, ulcer.label)),
            is_yes: ask(reading, ulcer, view)?,
        })
    })
}

/// The same where the answer is a band.
pub(super) fn banded(
    study: &Study<'_>,
    rule: &Rule,
    ask: fn(&Reading<'_>, &Episode, &View<'_>) -> Option<Option<ClassPlace>>,
) -> Vec<Banded> {
    of_each(study, rule, |reading, ulcer, view| {
        Some(Banded {
            cluster: ulcer.patient,
            index: ulcer.index,
            place: Some(Place::ulcer(ulcer.side, ulcer.label)),
            band: ask(reading, ulcer, view)?,
        })
    })
}

/// Ulcers a person for which room is made at once; a guess that decides nothing.
pub(super) const ULCERS_A_PERSON: usize = 2;

/// What is asked of every ulcer that began here, read as known when its question is settled.
fn of_each<T>(
    study: &Study<'_>,
    rule: &Rule,
    ask: impl Fn(&Reading<'_>, &Episode, &View<'_>) -> Option<T>,
) -> Vec<T> {
    let mut found = Vec::with_capacity(ULCERS_A_PERSON * study.people.len());
    for person in study.people {
        for day in person.opening_days() {
            let view = study.view(day, rule.horizon_days);
            let reading = person.reading_at(&view);
            let began = reading.episodes.iter().filter(|ulcer| {
                ulcer.index.date == day && !ulcer.is_post_surgical && ulcer.prevalent.is_none()
            });
            found.extend(began.filter_map(|ulcer| ask(&reading, ulcer, &view)));
        }
    }
    found
}

/// Bands of a delay.
pub(super) const DELAYS: &[&str] = &[
    "0 to 2 days",
    "3 to 13 days",
    "14 to 61 days",
    "62 days or more",
];

/// The band of a delay of so many days.
pub(super) fn delay_band(days: i64) -> ClassPlace {
    match days {
        ..=2 => 0,
        3..=13 => 1,
        14..=61 => 2,
        _ => 3,
    }
}

/// Rows of an ulcer, as a clinician saw it, from the first visit to so many days after it.
pub(super) fn rows<'r>(
    reading: &'r Reading<'_>,
    ulcer: &'r Episode,
    days: i64,
) -> impl Iterator<Item = &'r UlcerObservation> {
    let span = ulcer.index.date..=days_after(ulcer.index.date, days);
    reading.person.observations.iter().filter(move |row| {
        (row.side, row.label) == (ulcer.side, ulcer.label)
            && row.seen_by == SeenBy::Clinician
            && span.contains(&row.date)
    })
}

/// Examinations of the foot of an ulcer, from some days before its first visit to some days after it.
pub(super) fn exams<'r>(
    reading: &'r Reading<'_>,
    ulcer: &'r Episode,
    before: i64,
    after: i64,
) -> impl Iterator<Item = &'r FootExam> {
    let index = ulcer.index.date;
    let span = days_after(index, -before)..=days_after(index, after);
    let exams = reading.person.foot_exams.iter();
    exams.filter(move |exam| exam.side == ulcer.side && span.contains(&exam.date))
}

/// Whether an event of that leg, or of a leg not recorded, lies so near to the first visit.
pub(super) fn has_event(
    reading: &Reading<'_>,
    ulcer: &Episode,
    kind: EventKind,
    before: i64,
    after: i64,
) -> bool {
    let index = ulcer.index.date;
    let span = days_after(index, -before)..=days_after(index, after);
    reading.person.events.iter().any(|event| {
        event.kind == kind
            && event.side.is_none_or(|side| side == ulcer.side)
            && span.contains(&event.date)
    })
}

/// Yes when any row says yes, no when one says no and none yes, unknown when nothing was recorded.
pub(super) fn any_yes(items: impl Iterator<Item = Option<bool>>) -> Option<bool> {
    items.flatten().reduce(|one, other| one || other)
}

/// An ulcer of the sole; `None` when its surface is another or not recorded.
pub(super) fn is_plantar(ulcer: &Episode) -> Option<()> {
    (ulcer.site?.aspect == Some(Aspect::Plantar)).then_some(())
}

/// Whether it is the first ulcer of the person here; of several of one day the first by side and label.
pub(super) fn is_first(reading: &Reading<'_>, ulcer: &Episode) -> bool {
    let of = |ulcer: &Episode| (ulcer.index.date, ulcer.side, ulcer.label);
    let ulcers = reading
        .episodes
        .iter()
        .filter(|other| !other.is_post_surgical);
    ulcers.map(of).min() == Some(of(ulcer))
}

/// Whether a wound was recorded, by a day, as that of an operation and so is no ulcer.
pub(super) fn is_surgical(
    rows: &[UlcerObservation],
    side: Side,
    label: NameId,
    by: NaiveDate,
) -> bool {
    let own = rows
        .iter()
        .filter(|row| (row.side, row.label) == (side, label));
    own.take_while(|row| row.date <= by)
        .any(|row| row.origin == Some(Origin::PostSurgical))
}
