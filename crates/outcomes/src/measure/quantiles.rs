//! Quantiles of the time to an event, with what unknown outcomes allow.

use super::Measure;
use super::cohort::Study;
use super::follow_up::FollowUp;
use super::incidence::incidence_on;
use super::probability::{n_people, people_note, robust_interval};
use super::shares::{gate_note, shown};
use crate::report::words::number;
use crate::report::{Bounds, Estimate, MeasureResult, Unit, Value};
use survival::IncidenceOfCause;

/// Shares whose days are told, with the words of their stratum.
pub(super) const QUARTILES: [(f64, &str); 3] = [
    (0.25, "a quarter healed"),
    (0.5, HALF),
    (0.75, "three quarters healed"),
];

/// The stratum of the median among the quartiles.
pub(crate) const HALF: &str = "half healed";

/// Rounding must not hide a share that is met exactly.
const TOLERANCE: f64 = 1e-9;

/// The first day on which the cumulative incidence reaches a share, up to the measure's horizon.
pub(super) fn quantile(
    measure: &Measure,
    study: &Study<'_>,
    subjects: &[FollowUp],
    incidence: &IncidenceOfCause,
    share: f64,
    blank: &MeasureResult,
) -> MeasureResult {
    let horizon = measure.rule.horizon_days;
    let within = |day: Option<f64>| day.filter(|day| *day <= horizon as f64);
    let main = incidence.curve.as_ref();
    let reached = main.and_then(|curve| {
        let mut points = curve.points.iter();
        points.find(|point| point.estimate >= share - TOLERANCE)
    });
    let quantile = main.map(|curve| curve.quantile(share));
    let lower = within(quantile.as_ref().and_then(|quantile| quantile.lower));
    let upper = within(quantile.as_ref().and_then(|quantile| quantile.upper));
    let value = match within(reached.map(|point| point.time)) {
        Some(estimate) => Value::Known(Estimate {
            estimate,
            // A curve that stays at exactly the share has its limits around the middle of the level stretch.
            interval: robust_interval(
                study,
                subjects,
                lower.map(|lower| lower.min(estimate)),
                upper.map(|upper| upper.max(estimate)),
            ),
        }),
        None if incidence_on(incidence, horizon).is_none() => Value::NotEstimable {
            reason: format!("nobody was followed for {horizon} days"),
        },
        None => Value::NotReached {
            lower: lower.filter(|_| n_people(subjects) > 1),
        },
    };
    let n_unknown = subjects
        .iter()
        .filter(|subject| is_unknown(subject, horizon))
        .count();
    let [best, worst] = extremes(measure, subjects, share);
    let mut notes = vec![format!("read up to day {horizon}")];
    if n_unknown > 0 && is_counted_from_the_start(subjects) {
        notes.extend(extremes_note(best, worst));
    }
    notes.extend(people_note(subjects));
    notes.extend(gate_note(study, subjects.len() - n_unknown, subjects.len()));
    let bounds = best.zip(worst).filter(|_| n_unknown > 0);
    MeasureResult {
        value,
        denominator: shown(subjects.len()),
        n_unknown: shown(n_unknown),
        bounds: bounds
            .filter(|_| is_counted_from_the_start(subjects))
            .map(|(best, worst)| Bounds {
                lowest: best as f64,
                highest: worst as f64,
            }),
        notes,
        ..blank.clone()
    }
}

fn is_unknown(subject: &FollowUp, horizon: i64) -> bool {
    subject.ending.is_none() && i64::from(subject.exit_day) < horizon
}

/// Shares of everybody make sense only where everybody was there on day 0.
fn is_counted_from_the_start(subjects: &[FollowUp]) -> bool {
    subjects.iter().all(|subject| subject.entry_day == 0)
}

/// The day on which the share is reached if everybody lost from sight had the event the day after, and if nobody of them
/// ever had; `None` where it is not reached by the horizon.
fn extremes(measure: &Measure, subjects: &[FollowUp], share: f64) -> [Option<i64>; 2] {
    let horizon = measure.rule.horizon_days;
    let is_event = |subject: &FollowUp| {
        let ending = subject.ending;
        ending.is_some_and(|ending| measure.rule.event.contains(&ending))
    };
    let events = subjects.iter().filter(|subject| is_event(subject));
    let events = events.map(|subject| i64::from(subject.exit_day));
    let lost = subjects
        .iter()
        .filter(|subject| is_unknown(subject, horizon))
        .map(|subject| i64::from(subject.exit_day) + 1);
    let reached = |mut days: Vec<i64>| {
        days.sort_unstable();
        let n_wanted = (share * subjects.len() as f64 - TOLERANCE).ceil().max(1.0) as usize;
        let day = days.get(n_wanted - 1).copied();
        day.filter(|day| *day <= horizon)
    };
    [
        reached(events.clone().chain(lost).collect()),
        reached(events.collect()),
    ]
}

/// Said where the share is not reached at one end, so that there are no bounds in days.
fn extremes_note(best: Option<i64>, worst: Option<i64>) -> Option<String> {
    let say = |day: Option<i64>| {
        day.map_or("not reached".to_owned(), |day| {
            number(Unit::Days, day as f64)
        })
    };
    (best.is_none() || worst.is_none()).then(|| {
        format!(
            "had all those lost from sight healed at once: {}; had none of them healed: {}",
            say(best),
            say(worst)
        )
    })
}
