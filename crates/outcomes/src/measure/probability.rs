//! What is read from a cumulative incidence: probabilities, a median, observed against expected.

use super::between_visits::between_visits;
use super::cohort::Study;
use super::follow_up::{FollowUp, Remark};
use super::incidence::{incidence_on, main_incidence};
use super::loss::weighted_for_loss;
use super::quantiles::{QUARTILES, quantile};
use super::shares::{WILSON, gate_note, interval, shown};
use super::time_free::mean_days_to_event;
use super::{FollowUpSummary, Measure, counts};
use crate::report::{Bounds, Estimate, Interval, MeasureResult, Unit, Value, words};
use crate::rules::KnownRule;
use survival::{ConfidenceLimits, IncidenceOfCause, poisson_exact, wilson};

const ROBUST: &str = "log-log, variance robust to several ulcers of one person";

pub(super) fn summarise(
    measure: &Measure,
    summary: FollowUpSummary,
    study: &Study<'_>,
    subjects: &[FollowUp],
    blank: &MeasureResult,
) -> Vec<MeasureResult> {
    let level = study.rules.confidence_level;
    let Some(incidence) = main_incidence(&measure.rule, subjects, level) else {
        return vec![MeasureResult {
            denominator: shown(0),
            ..blank.clone()
        }];
    };
    let horizon = measure.rule.horizon_days;
    match summary {
        FollowUpSummary::IncidenceAt { days, .. } => days
            .iter()
            .map(|&day| {
                let mut result = at_day(measure, study, subjects, &incidence, day, false, blank);
                if days.len() > 1 {
                    result.stratum = within(day, &blank.stratum);
                }
                result
            })
            .collect(),
        FollowUpSummary::BetweenVisits => {
            let at_visits = at_day(measure, study, subjects, &incidence, horizon, false, blank);
            vec![between_visits(measure, study, subjects, at_visits)]
        }
        FollowUpSummary::WeightedForLoss => {
            let own = at_day(measure, study, subjects, &incidence, horizon, false, blank);
            vec![weighted_for_loss(measure, study, subjects, own)]
        }
        FollowUpSummary::FreeAtHorizon => {
            vec![at_day(
                measure, study, subjects, &incidence, horizon, true, blank,
            )]
        }
        FollowUpSummary::FreeAtHorizonWithExpected => {
            let mut results = vec![at_day(
                measure, study, subjects, &incidence, horizon, true, blank,
            )];
            if blank.stratum == "all" {
                results.extend(observed_to_expected(measure, study, subjects, blank));
            }
            results
        }
        FollowUpSummary::RateToHorizon => vec![counts::rate_to_horizon(
            study,
            measure.rule.event,
            horizon,
            subjects,
            blank,
        )],
        FollowUpSummary::Median => {
            vec![quantile(measure, study, subjects, &incidence, 0.5, blank)]
        }
        FollowUpSummary::MeanDays => {
            vec![mean_days_to_event(measure, study, subjects, blank)]
        }
        FollowUpSummary::Quartiles => QUARTILES
            .iter()
            .map(|(share, words)| MeasureResult {
                stratum: of_stratum(words, &blank.stratum),
                ..quantile(measure, study, subjects, &incidence, *share, blank)
            })
            .collect(),
    }
}

/// The stratum words of a probability read on one of several days.
pub(crate) fn within(day: i64, stratum: &str) -> String {
    let days = if day == 1 {
        "within 1 day".to_owned()
    } else {
        format!("within {day} days")
    };
    of_stratum(&days, stratum)
}

/// What is said of everybody as it is, of a stratum behind its words.
pub(super) fn of_stratum(what: &str, stratum: &str) -> String {
    if stratum == "all" {
        what.to_owned()
    } else {
        format!("{stratum}, {what}")
    }
}

/// One probability read from the curve, with counts and the bounds that unknown outcomes allow.
fn at_day(
    measure: &Measure,
    study: &Study<'_>,
    subjects: &[FollowUp],
    incidence: &IncidenceOfCause,
    day: i64,
    is_complement: bool,
    blank: &MeasureResult,
) -> MeasureResult {
    let rule = &measure.rule;
    let is_event = |subject: &FollowUp| {
        i64::from(subject.exit_day) <= day
            && subject
                .ending
                .is_some_and(|ending| rule.event.contains(&ending))
    };
    let n = subjects.len();
    let n_events = subjects.iter().filter(|subject| is_event(subject)).count();
    let n_unknown = subjects
        .iter()
        .filter(|subject| subject.ending.is_none() && i64::from(subject.exit_day) < day)
        .count();
    let enter_together = subjects
        .windows(2)
        .all(|pair| pair[0].entry_day == pair[1].entry_day);
    let is_counted_fully = n_unknown == 0 && enter_together;
    let value = match incidence_on(incidence, day) {
        None => Value::NotEstimable {
            reason: format!("nobody was followed for {day} days"),
        },
        Some((estimate, lower, upper)) => {
            let level = study.rules.confidence_level;
            let (lower, upper, method) = if is_counted_fully && (n_events == 0 || n_events == n) {
                // The curve has no limits at its ends; Wilson's for people, each counted once, stand in.
                let people = n_people(subjects) as u64;
                let with_event = if n_events == 0 { 0 } else { people };
                let limits = wilson(with_event, people, level);
                (
                    limits.map(|limits| limits.lower),
                    limits.map(|limits| limits.upper),
                    WILSON,
                )
            } else if n_people(subjects) > 1 {
                (lower, upper, ROBUST)
            } else {
                (None, None, ROBUST)
            };
            let (estimate, lower, upper) = if is_complement {
                (
                    1.0 - estimate,
                    upper.map(|upper| 1.0 - upper),
                    lower.map(|lower| 1.0 - lower),
                )
            } else {
                (estimate, lower, upper)
            };
            Value::Known(Estimate {
                estimate,
                interval: interval(lower, upper, level, method),
            })
        }
    };
    let share = |count: usize| count as f64 / n as f64;
    let bounds = if is_complement {
        Bounds {
            lowest: 1.0 - share(n_events + n_unknown),
            highest: 1.0 - share(n_events),
        }
    } else {
        Bounds {
            lowest: share(n_events),
            highest: share(n_events + n_unknown),
        }
    };
    let mut notes = Vec::new();
    notes.extend(people_note(subjects));
    if rule.known != KnownRule::AsTold {
        notes.extend(gate_note(study, n - n_unknown, n));
    }
    notes.extend(remarks(subjects));
    if n_events == 0 && !is_counted_fully && matches!(value, Value::Known(_)) {
        notes.push("no event: the curve method gives no limits".to_owned());
    }
    MeasureResult {
        value,
        numerator: shown(if is_complement {
            n - n_events - n_unknown
        } else {
            n_events
        }),
        denominator: shown(n),
        n_unknown: shown(n_unknown),
        bounds: (n_unknown > 0).then_some(bounds),
        notes,
        ..blank.clone()
    }
}

pub(super) fn n_people(subjects: &[FollowUp]) -> usize {
    let mut people: Vec<_> = subjects.iter().map(|subject| subject.cluster).collect();
    people.sort_unstable();
    people.dedup();
    people.len()
}

/// Said when several of those counted are one person's.
pub(super) fn people_note(subjects: &[FollowUp]) -> Option<String> {
    let people = n_people(subjects);
    (people < subjects.len()).then(|| {
        format!(
            "{} counted, from {}",
            subjects.len(),
            words::counted(people, "person", "people")
        )
    })
}

/// Remarks that subjects carry, each with how many carry it.
fn remarks(subjects: &[FollowUp]) -> Vec<String> {
    let mut remarks: Vec<&'static str> = subjects
        .iter()
        .filter_map(|subject| subject.remark.map(Remark::code))
        .collect();
    remarks.sort_unstable();
    remarks
        .chunk_by(|left, right| left == right)
        .map(|group| format!("{} {}", group.len(), group[0]))
        .collect()
}

/// Limits by the robust variance, which needs more than one person.
pub(super) fn robust_interval(
    study: &Study<'_>,
    subjects: &[FollowUp],
    lower: Option<f64>,
    upper: Option<f64>,
) -> Option<Interval> {
    let is_estimable = n_people(subjects) > 1;
    is_estimable
        .then(|| interval(lower, upper, study.rules.confidence_level, ROBUST))
        .flatten()
}

/// Observed events within the horizon against the sum of published expectations, exact Poisson limits.
/// Only subjects with an expectation are compared.
fn observed_to_expected(
    measure: &Measure,
    study: &Study<'_>,
    subjects: &[FollowUp],
    blank: &MeasureResult,
) -> Option<MeasureResult> {
    let compared: Vec<(&FollowUp, f64)> = subjects
        .iter()
        .filter_map(|subject| Some((subject, subject.expected()?)))
        .collect();
    if compared.is_empty() {
        return None;
    }
    let expected: f64 = compared.iter().map(|(_, expected)| expected).sum();
    let observed = compared
        .iter()
        .filter(|(subject, _)| {
            i64::from(subject.exit_day) <= measure.rule.horizon_days
                && subject
                    .ending
                    .is_some_and(|ending| measure.rule.event.contains(&ending))
        })
        .count();
    let value = match poisson_exact(observed as u64, study.rules.confidence_level) {
        Some(ConfidenceLimits { lower, upper }) if expected > 0.0 => Value::Known(Estimate {
            estimate: observed as f64 / expected,
            interval: interval(
                Some(lower / expected),
                Some(upper / expected),
                study.rules.confidence_level,
                "exact Poisson",
            ),
        }),
        _ => Value::NotEstimable {
            reason: "no event is expected".to_owned(),
        },
    };
    Some(MeasureResult {
        stratum: "observed against expected events".to_owned(),
        unit: Unit::Ratio,
        value,
        numerator: shown(observed),
        denominator: shown(compared.len()),
        notes: vec![
            format!("{} expected among {} with a known stage of {}", words::decimal(expected, 1), compared.len(), subjects.len()),
            "below 1 means fewer than the published studies saw; it does not show that care caused it".to_owned(),
        ],
        ..blank.clone()
    })
}
