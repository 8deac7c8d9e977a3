//! Mean days in a state within a horizon, from people followed for different times.

use super::Measure;
use super::cohort::Study;
use super::follow_up::FollowUp;
use super::probability::{n_people, people_note};
use super::shares::{interval, shown};
use crate::report::words::percent;
use crate::report::{Bounds, Estimate, MeasureResult, Value};
use crate::tables::{Dated, PatientKey};
use survival::{CurveOptions, StateHistory, TimeInState, expected_time_in_states};

const ROBUST: &str = "linear, variance robust to several counts from one person";

/// Where somebody or an ulcer stands on the first day, and in the state that is counted.
pub(crate) const START: u32 = 0;
pub(crate) const COUNTED: u32 = 1;
/// Any other state: dead, amputated.
pub(crate) const OTHER: u32 = 2;

/// A course through states from day 0, in state `START` at first.
#[derive(Debug, Clone, PartialEq)]
pub struct StateCourse {
    /// The person, as the cluster number.
    pub cluster: PatientKey,
    /// The day that decides the cohort, and its row.
    pub index: Dated,
    /// Days of moves with the state moved to, ascending, none after `known_to`.
    pub moves: Vec<(i64, u32)>,
    /// Last day on which the state was known.
    pub known_to: i64,
    /// Whether nothing can follow: dead, or followed to the end of what matters.
    pub is_ended: bool,
}

/// Mean days in the counted state up to the horizon.
pub(super) fn mean_days(
    measure: &Measure,
    study: &Study<'_>,
    courses: &[&StateCourse],
    blank: MeasureResult,
) -> MeasureResult {
    let horizon = measure.rule.horizon_days;
    let n = courses.len();
    let is_unknown = |course: &StateCourse| !course.is_ended && course.known_to < horizon;
    let n_unknown = courses.iter().filter(|course| is_unknown(course)).count();
    let mut people: Vec<PatientKey> = courses.iter().map(|course| course.cluster).collect();
    people.sort_unstable();
    people.dedup();
    let time = time_counted(courses, horizon, study.rules.confidence_level);
    let carried_on_from = time.as_ref().and_then(|time| time.carried_on_from);
    let value = match time {
        None => blank.value.clone(),
        Some(time) if time.carried_on_from.is_some() && n_unknown == n => Value::NotEstimable {
            reason: format!("nobody was followed for {horizon} days"),
        },
        Some(time) => Value::Known(Estimate {
            estimate: time.estimate,
            interval: (people.len() > 1)
                .then(|| {
                    let upper = time.upper.min(horizon as f64);
                    let level = study.rules.confidence_level;
                    interval(Some(time.lower), Some(upper), level, ROBUST)
                })
                .flatten(),
        }),
    };
    let known: i64 = courses
        .iter()
        .map(|course| days_counted(course, horizon))
        .sum();
    let missing = courses.iter().filter(|course| is_unknown(course));
    let missing: i64 = missing.map(|course| horizon - course.known_to).sum();
    let mean = |days: i64| days as f64 / n.max(1) as f64;
    let carried_on = carried_on_from.filter(|_| n_unknown > 0);
    let mut notes: Vec<String> = carried_on
        .map(|day| {
            format!("nobody was followed beyond day {day:.0}: from then on held as it stood")
        })
        .into_iter()
        .collect();
    notes.extend(days_note(study, n, horizon, missing));
    MeasureResult {
        value,
        denominator: shown(n),
        n_unknown: shown(n_unknown),
        bounds: (n_unknown > 0).then(|| Bounds {
            lowest: mean(known),
            highest: mean(known + missing),
        }),
        notes,
        ..blank
    }
}

/// Said when too large a part of all days is not known. People are seldom seen on the very last day, so that counting people
/// would say little.
fn days_note(study: &Study<'_>, n: usize, horizon: i64, missing: i64) -> Option<String> {
    let all = n as f64 * horizon as f64;
    let share = 1.0 - missing as f64 / all;
    (n > 0 && share < study.rules.known_outcome_gate).then(|| {
        format!(
            "{} of all days known, below the {:.0}% gate: not to be relied on",
            percent(share),
            study.rules.known_outcome_gate * 100.0
        )
    })
}

/// Days in the counted state as far as the course is known, up to the horizon.
fn days_counted(course: &StateCourse, horizon: i64) -> i64 {
    let end = if course.is_ended {
        horizon
    } else {
        course.known_to.min(horizon)
    };
    let mut days = 0;
    for (place, (from, state)) in course.moves.iter().enumerate() {
        let to = course
            .moves
            .get(place + 1)
            .map_or(end, |next| next.0)
            .min(end);
        if *state == COUNTED {
            days += (to - from.min(&end)).max(0);
        }
    }
    days
}

/// `None` for nobody.
fn time_counted(courses: &[&StateCourse], horizon: i64, level: f64) -> Option<TimeInState> {
    let (mut subject, mut cluster) = (Vec::new(), Vec::new());
    let (mut start, mut stop) = (Vec::new(), Vec::new());
    let (mut from, mut to) = (Vec::new(), Vec::new());
    for (number, course) in (0u32..).zip(courses) {
        let mut state = START;
        let mut since = 0;
        let ends = course.moves.iter().map(|(day, state)| (*day, Some(*state)));
        for (day, moved_to) in ends.chain([(course.known_to.max(0), None)]) {
            let is_needless = moved_to.is_none() && day <= since && !course.moves.is_empty();
            if is_needless {
                continue;
            }
            subject.push(number);
            cluster.push(course.cluster.0);
            start.push(since as f64);
            stop.push(day.max(since) as f64);
            from.push(state);
            to.push(moved_to);
            since = day.max(since);
            state = moved_to.unwrap_or(state);
        }
    }
    let history = StateHistory::new(subject, start, stop, from, to)
        .and_then(|history| history.with_cluster(cluster))
        .ok()?;
    let options = CurveOptions {
        level,
        ..CurveOptions::default()
    };
    let times = expected_time_in_states(&history, horizon as f64, &options).ok()?;
    let counted = times.iter().find(|time| time.state == COUNTED);
    // A state that nobody entered takes no time.
    counted.cloned().or_else(|| {
        times.into_iter().next().map(|time| TimeInState {
            state: COUNTED,
            estimate: 0.0,
            std_error: 0.0,
            lower: 0.0,
            upper: 0.0,
            ..time
        })
    })
}

/// Mean days up to the horizon that pass without the event: all of them for whoever never has it.
pub(super) fn mean_days_to_event(
    measure: &Measure,
    study: &Study<'_>,
    subjects: &[FollowUp],
    blank: &MeasureResult,
) -> MeasureResult {
    let horizon = measure.rule.horizon_days;
    if subjects.iter().any(|subject| subject.entry_day > 0) {
        return MeasureResult {
            value: Value::NotEstimable {
                reason: "not made with a clock that starts before the first visit here".to_owned(),
            },
            ..blank.clone()
        };
    }
    let courses: Vec<StateCourse> = subjects
        .iter()
        .map(|subject| {
            let state = |ending| {
                if measure.rule.event.contains(&ending) {
                    COUNTED
                } else {
                    OTHER
                }
            };
            StateCourse {
                cluster: subject.cluster,
                index: subject.index,
                moves: subject
                    .ending
                    .map(|ending| (subject.exit_day.into(), state(ending)))
                    .into_iter()
                    .collect(),
                known_to: subject.exit_day.into(),
                is_ended: subject.ending.is_some(),
            }
        })
        .collect();
    let after = mean_days(
        measure,
        study,
        &courses.iter().collect::<Vec<_>>(),
        blank.clone(),
    );
    let whole = horizon as f64;
    let value = match after.value {
        Value::Known(Estimate { estimate, interval }) => Value::Known(Estimate {
            estimate: whole - estimate,
            interval: interval.map(|ends| crate::report::Interval {
                lower: ends.upper.map(|upper| whole - upper),
                upper: ends.lower.map(|lower| whole - lower),
                ..ends
            }),
        }),
        other => other,
    };
    let mut notes: Vec<String> = people_note(subjects)
        .filter(|_| n_people(subjects) > 0)
        .into_iter()
        .collect();
    notes.extend(after.notes);
    MeasureResult {
        value,
        bounds: after.bounds.map(|bounds| Bounds {
            lowest: whole - bounds.highest,
            highest: whole - bounds.lowest,
        }),
        notes,
        ..after
    }
}
