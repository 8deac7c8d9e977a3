//! Whom several measures follow.
//!
//! Who belongs to a cohort is decided by what was known at the end of the subject's own evidence horizon: for each day on
//! which something may have begun, the person is read as known that much later, and what began on that day counts.

use super::new_ulcers::ULCERS_A_PERSON;
use crate::derive::{Episode, Limb, PersonOutcomes, Reading};
use crate::expectation::{SeverityItems, severity_items};
use crate::measure::{FollowUp, Occurrence, Place, Study, follow_up};
use crate::rules::{Clock, Outcome, Rule, whole_days};
use crate::tables::{AmputationLevel, Dated};
use chrono::NaiveDate;

/// Ulcers that began here, each with its severity at the first visit: one list serves those who weigh by it and those who do not.
///
/// Clock at the first visit: prevalent ulcers are left out. Clock at onset: every ulcer with a known onset, at risk
/// only from the first visit here.
pub(super) fn ulcers(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    ulcers_by(study, rule, |reading, ulcer| {
        let presentation = reading.presentation(ulcer, study.rules);
        Course {
            outcomes: ulcer.outcomes(),
            known_to: ulcer.last_known.date,
            last_open: ulcer.closure.map(|closure| closure.last_open),
            severity: Some(severity_items(ulcer, &presentation)),
        }
    })
}

/// What happened to an ulcer as one version of "healed" sees it.
pub(super) struct Course<I> {
    /// Everything that happened to it.
    pub(super) outcomes: I,
    /// Last day on which its state was known, for this version.
    pub(super) known_to: NaiveDate,
    /// Last visit that found it open, where it was later found closed.
    pub(super) last_open: Option<Dated>,
    /// Severity items at the first visit, where the measure asks for them.
    pub(super) severity: Option<SeverityItems>,
}

/// The same ulcers by another version of "healed": `course` sees each as known at the end of its horizon.
pub(super) fn ulcers_by<I: Iterator<Item = (Outcome, Dated)>>(
    study: &Study<'_>,
    rule: &Rule,
    course: impl Fn(&Reading<'_>, &Episode) -> Course<I>,
) -> Vec<FollowUp> {
    let mut followed = Vec::with_capacity(ULCERS_A_PERSON * study.people.len());
    for person in study.people {
        for day in person.opening_days() {
            match study.rules.clock {
                Clock::FirstVisit => {
                    let reading = person.reading_at(&study.view(day, rule.horizon_days));
                    let began = ulcers_of(&reading, day).filter(|ulcer| ulcer.prevalent.is_none());
                    followed.extend(began.filter_map(|ulcer| {
                        ulcer_from(rule, ulcer, ulcer.index, course(&reading, ulcer))
                    }));
                }
                Clock::Onset => {
                    followed.extend(ulcers_from_onset(study, rule, person, day, &course))
                }
            }
        }
    }
    followed
}

fn ulcers_of<'r>(reading: &'r Reading<'_>, day: NaiveDate) -> impl Iterator<Item = &'r Episode> {
    reading
        .episodes
        .iter()
        .filter(move |episode| !episode.is_post_surgical && episode.index.date == day)
}

/// The onset is the one told by the end of the evidence days after the first visit.
fn ulcers_from_onset<I: Iterator<Item = (Outcome, Dated)>>(
    study: &Study<'_>,
    rule: &Rule,
    person: &PersonOutcomes<'_>,
    day: NaiveDate,
    course: &impl Fn(&Reading<'_>, &Episode) -> Course<I>,
) -> Vec<FollowUp> {
    let first = person.reading_at(&study.view(day, 0));
    ulcers_of(&first, day)
        .filter_map(|ulcer| {
            let origin = ulcer.onset?.dated;
            let view = study.view(origin.date, rule.horizon_days);
            let reading = person.reading_at(&view);
            let known = ulcers_of(&reading, day)
                .find(|other| (other.side, other.label) == (ulcer.side, ulcer.label))?;
            ulcer_from(rule, known, origin, course(&reading, known))
        })
        .collect()
}

fn ulcer_from<I: Iterator<Item = (Outcome, Dated)>>(
    rule: &Rule,
    ulcer: &Episode,
    origin: Dated,
    course: Course<I>,
) -> Option<FollowUp> {
    let entry_day = whole_days(origin.date, ulcer.index.date);
    let followed = follow_up(
        rule,
        ulcer.patient,
        origin,
        course.outcomes,
        course.known_to,
    )?;
    let is_event = followed
        .ending
        .is_some_and(|ending| rule.event.contains(&ending));
    let is_at_risk = entry_day == 0
        || (followed.exit_day > entry_day && i64::from(entry_day) < rule.horizon_days);
    is_at_risk.then_some(FollowUp {
        index: ulcer.index,
        place: Some(Place::ulcer(ulcer.side, ulcer.label)),
        entry_day,
        severity: course.severity,
        not_yet_day: course
            .last_open
            .filter(|_| is_event)
            .map(|at| whole_days(origin.date, at.date)),
        ..followed
    })
}

/// Person-episodes that began here, each followed until every ulcer on both feet has healed without amputation.
pub(super) fn person_episodes(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    let mut followed = Vec::new();
    for person in study.people {
        for day in person.opening_days() {
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading.person_episodes.iter();
            let began = began.filter(|span| span.index.date == day && !span.is_prevalent);
            followed.extend(began.filter_map(|span| {
                let outcomes = reading.person_outcomes(span).into_iter().flatten();
                let known_to = span.last_not_closed.date;
                let subject = follow_up(rule, span.patient, span.index, outcomes, known_to)?;
                let is_event = subject.ending == Some(Outcome::AllHealed);
                Some(FollowUp {
                    not_yet_day: is_event.then(|| whole_days(span.index.date, span.last_open.date)),
                    ..subject
                })
            }));
        }
    }
    followed
}

/// Limbs from their first ulcer in view, each followed to the day deaths and procedures are known to; `add` sees the
/// limb as known at the end of its horizon.
pub(super) fn limbs(
    study: &Study<'_>,
    rule: &Rule,
    mut add: impl FnMut(&Reading<'_>, &Limb, FollowUp) -> Option<FollowUp>,
) -> Vec<FollowUp> {
    let mut followed = Vec::new();
    for person in study.people {
        for day in person.opening_days() {
            let view = study.view(day, rule.horizon_days);
            let reading = person.reading_at(&view);
            let began = reading
                .limbs()
                .iter()
                .filter(|limb| limb.index.date == day && !limb.is_prevalent);
            followed.extend(began.filter_map(|limb| {
                let known_to = study.horizon.limbs_known_to().min(view.until);
                let subject = follow_up(rule, limb.patient, limb.index, limb.outcomes(), known_to)?;
                let subject = FollowUp {
                    place: Some(Place::leg(limb.side)),
                    ..subject
                };
                add(&reading, limb, subject)
            }));
        }
    }
    followed
}

/// Amputations of one level that count, dated inside the export.
pub(super) fn amputations(study: &Study<'_>, level: AmputationLevel) -> Vec<Occurrence> {
    let mut operations: Vec<Occurrence> = Vec::new();
    for person in study.people {
        let counted = person.reading.facts.amputations.iter();
        let counted = counted.filter(|amputation| {
            amputation.level == level && amputation.at.date >= study.horizon.data_start
        });
        operations.extend(counted.map(|amputation| Occurrence {
            cluster: person.person.key,
            place: Some(Place::leg(amputation.side)),
            at: amputation.at,
        }));
    }
    operations.sort_by_key(|operation| operation.at);
    operations
}
