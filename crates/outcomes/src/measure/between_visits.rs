//! Cumulative incidence with every date drawn between the two visits that it is known to lie between.

use super::Measure;
use super::cohort::Study;
use super::follow_up::FollowUp;
use super::incidence::{not_yet_days, sample_of};
use super::probability::n_people;
use super::shares::interval;
use crate::report::words::{counted, value};
use crate::report::{Estimate, MeasureResult, Value};
use survival::Limits;
use survival::interval::{DrawOptions, drawn_incidence};

/// The estimate of the same people that only knows the interval of each healing, beside the one dated at visits.
pub(super) fn between_visits(
    measure: &Measure,
    study: &Study<'_>,
    subjects: &[FollowUp],
    at_visits: MeasureResult,
) -> MeasureResult {
    let Value::Known(_) = at_visits.value else {
        return at_visits;
    };
    let rules = study.rules;
    let options = DrawOptions {
        n_draws: usize::try_from(rules.healing_date_draws).unwrap_or(2),
        seed: rules.healing_date_seed,
        level: rules.confidence_level,
        limits: Limits::LogLog,
    };
    let horizon = measure.rule.horizon_days as f64;
    let drawn = sample_of(&measure.rule, subjects).and_then(|sample| {
        drawn_incidence(&sample, &not_yet_days(subjects), 1, &[horizon], &options).ok()
    });
    let point = drawn.and_then(|drawn| drawn.points.into_iter().next());
    let known = point.and_then(|point| Some((point.estimate?, point.lower, point.upper)));
    let mut notes = vec![format!("dated at visits: {}", value(&at_visits))];
    notes.extend(widths_note(subjects));
    notes.extend(at_visits.notes.iter().cloned());
    let value = match known {
        Some((estimate, lower, upper)) => {
            let ends = (n_people(subjects) > 1).then_some((lower, upper));
            let method = format!(
                "log-log, variance robust to several ulcers of one person, {} draws pooled",
                rules.healing_date_draws
            );
            Value::Known(Estimate {
                estimate,
                interval: ends.and_then(|(lower, upper)| {
                    interval(lower, upper, rules.confidence_level, &method)
                }),
            })
        }
        None => Value::NotEstimable {
            reason: "the dates could not be drawn".to_owned(),
        },
    };
    MeasureResult {
        value,
        // Whether somebody had healed by the day differs from draw to draw.
        numerator: None,
        bounds: None,
        notes,
        ..at_visits
    }
}

/// How far apart the visits were between which healing lay; it explains how much later visits date it.
fn widths_note(subjects: &[FollowUp]) -> Option<String> {
    let widths = subjects
        .iter()
        .filter_map(|subject| Some(i64::from(subject.exit_day - subject.not_yet_day?)));
    let median = middle(widths.collect())?;
    Some(format!(
        "half of the healings lay between two visits {} apart or less",
        counted(usize::try_from(median).unwrap_or(0), "day", "days")
    ))
}

/// The middle of some whole numbers, of an even number the lower one of the two.
pub(crate) fn middle(mut numbers: Vec<i64>) -> Option<i64> {
    numbers.sort_unstable();
    let place = numbers.len().checked_sub(1)? / 2;
    numbers.get(place).copied()
}
