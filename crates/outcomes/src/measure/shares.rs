//! Counts and shares: statuses, events, classes of people.

use super::cohort::Study;
use super::incidence::clustered_share;
use super::{Answer, Banded, ClassPlace};
use crate::report::{Bounds, Count, Estimate, Interval, MeasureResult, Value};
use survival::{poisson_exact, wilson};

pub(super) const WILSON: &str = "Wilson";

pub(super) fn shown(n: usize) -> Option<Count> {
    Some(Count::Shown(n as u64))
}

pub(super) fn interval(
    lower: Option<f64>,
    upper: Option<f64>,
    level: f64,
    method: &str,
) -> Option<Interval> {
    (lower.is_some() || upper.is_some()).then(|| Interval {
        lower,
        upper,
        level,
        method: method.to_owned(),
    })
}

pub(super) fn gate_note(study: &Study<'_>, n_known: usize, n: usize) -> Option<String> {
    let share = n_known as f64 / n as f64;
    (share < study.rules.known_outcome_gate).then(|| {
        format!(
            "outcome known for {n_known} of {n}, below the {:.0}% gate: not to be relied on",
            study.rules.known_outcome_gate * 100.0
        )
    })
}

/// Wilson where each person answers once, otherwise limits that are robust to people who answer more than once.
fn answer_interval(study: &Study<'_>, known: &[&Answer], n_yes: usize) -> Option<Interval> {
    let level = study.rules.confidence_level;
    let mut people: Vec<_> = known.iter().map(|answer| answer.cluster).collect();
    people.sort_unstable();
    people.dedup();
    if people.len() == known.len() {
        let limits = wilson(n_yes as u64, known.len() as u64, level)?;
        return interval(Some(limits.lower), Some(limits.upper), level, WILSON);
    }
    let answers = known
        .iter()
        .map(|answer| (answer.is_yes == Some(true), answer.cluster));
    let limits = clustered_share(answers, level)?;
    interval(
        limits.0,
        limits.1,
        level,
        "log-log, variance robust to people counted more than once",
    )
}

pub(super) fn status(
    study: &Study<'_>,
    answers: &[&Answer],
    blank: MeasureResult,
) -> MeasureResult {
    let n = answers.len();
    if n == 0 {
        return MeasureResult {
            denominator: shown(0),
            ..blank
        };
    }
    let n_yes = answers
        .iter()
        .filter(|answer| answer.is_yes == Some(true))
        .count();
    let n_unknown = answers
        .iter()
        .filter(|answer| answer.is_yes.is_none())
        .count();
    let n_known = n - n_unknown;
    let known: Vec<&Answer> = answers
        .iter()
        .copied()
        .filter(|answer| answer.is_yes.is_some())
        .collect();
    let value = if n_known == 0 {
        Value::NotEstimable {
            reason: "no outcome is known".to_owned(),
        }
    } else {
        Value::Known(Estimate {
            estimate: n_yes as f64 / n_known as f64,
            interval: answer_interval(study, &known, n_yes),
        })
    };
    let share = |count: usize| count as f64 / n as f64;
    MeasureResult {
        value,
        numerator: shown(n_yes),
        denominator: shown(n_known),
        n_unknown: shown(n_unknown),
        bounds: (n_unknown > 0).then(|| Bounds {
            lowest: share(n_yes),
            highest: share(n_yes + n_unknown),
        }),
        notes: gate_note(study, n_known, n).into_iter().collect(),
        ..blank
    }
}

/// The share of each band among those whose band is known.
pub(super) fn bands(
    study: &Study<'_>,
    classes: &[&str],
    own: &[&Banded],
    blank: &MeasureResult,
) -> Vec<MeasureResult> {
    let of_class = |(position, class): (usize, &&str)| {
        let answers: Vec<Answer> = own
            .iter()
            .map(|one| Answer {
                cluster: one.cluster,
                index: one.index,
                place: one.place,
                is_yes: one.band.map(|band| usize::from(band) == position),
            })
            .collect();
        let blank = MeasureResult {
            stratum: (*class).to_owned(),
            ..blank.clone()
        };
        status(study, &answers.iter().collect::<Vec<_>>(), blank)
    };
    classes.iter().enumerate().map(of_class).collect()
}

pub(super) fn count(study: &Study<'_>, n: usize, blank: MeasureResult) -> MeasureResult {
    let level = study.rules.confidence_level;
    MeasureResult {
        value: Value::Known(Estimate {
            estimate: n as f64,
            interval: poisson_exact(n as u64, level).and_then(|limits| {
                interval(
                    Some(limits.lower),
                    Some(limits.upper),
                    level,
                    "exact Poisson",
                )
            }),
        }),
        numerator: shown(n),
        ..blank
    }
}

pub(super) fn snapshot(
    study: &Study<'_>,
    classes: &[&str],
    people: &[ClassPlace],
    blank: &MeasureResult,
) -> Vec<MeasureResult> {
    let n = people.len();
    classes
        .iter()
        .enumerate()
        .map(|(position, class)| {
            let is_of_class = |class: &&ClassPlace| usize::from(**class) == position;
            let n_class = people.iter().filter(is_of_class).count();
            let value = if n == 0 {
                Value::NotEstimable {
                    reason: "nobody was seen in the time before".to_owned(),
                }
            } else {
                Value::Known(Estimate {
                    estimate: n_class as f64 / n as f64,
                    interval: wilson(n_class as u64, n as u64, study.rules.confidence_level)
                        .and_then(|limits| {
                            interval(
                                Some(limits.lower),
                                Some(limits.upper),
                                study.rules.confidence_level,
                                WILSON,
                            )
                        }),
                })
            };
            MeasureResult {
                stratum: (*class).to_owned(),
                value,
                numerator: shown(n_class),
                denominator: shown(n),
                ..blank.clone()
            }
        })
        .collect()
}
