use super::cohort::{Cohort, Study};
use super::follow_up::FollowUp;
use super::{Answer, FollowUpSummary, Measure, Method};
use crate::report::{Bounds, Count, Estimate, Interval, MeasureResult, Unit, Value, words};
use crate::rules::{Censoring, KnownRule, Outcome, Rule};
use crate::tables::Dated;
use survival::{
    ConfidenceLimits, CumulativeIncidence, Curve, CurveOptions, Limits, Sample, Variance,
    aalen_johansen, poisson_exact, wilson,
};

/// The people a measure counts, found once for all cohorts.
#[derive(Debug, Clone)]
pub enum Prepared {
    /// Follow-up times.
    FollowUps(Vec<FollowUp>),
    /// Answers.
    Answers(Vec<Answer>),
    /// Events.
    Events(Vec<Dated>),
    /// Nothing: a snapshot is taken for each quarter.
    Snapshot,
}

/// Finds the people a measure counts.
pub fn prepare(measure: &Measure, study: &Study<'_>) -> Prepared {
    match measure.method {
        Method::FollowUp { subjects, .. } => Prepared::FollowUps(subjects(study, &measure.rule)),
        Method::Status { answers } => Prepared::Answers(answers(study, &measure.rule)),
        Method::Count { events } => Prepared::Events(events(study)),
        Method::Snapshot { .. } => Prepared::Snapshot,
    }
}

/// What a measure comes to for one cohort. A cohort of several quarters is also split by stratum.
pub fn evaluate(
    measure: &Measure,
    prepared: &Prepared,
    study: &Study<'_>,
    cohort: &Cohort,
) -> Vec<MeasureResult> {
    let blank = blank_result(measure, cohort);
    if let Some(not_yet) = not_yet(measure, study, cohort) {
        return vec![MeasureResult {
            value: not_yet,
            ..blank
        }];
    }
    match (measure.method, prepared) {
        (Method::FollowUp { summary, .. }, Prepared::FollowUps(all)) => {
            let own: Vec<FollowUp> = all
                .iter()
                .filter(|subject| cohort.contains(subject.index.date))
                .copied()
                .collect();
            let mut results = summarise(measure, summary, study, &own, &blank);
            if cohort.first != cohort.last {
                let mut strata: Vec<&'static str> =
                    own.iter().filter_map(|subject| subject.stratum).collect();
                strata.sort_unstable();
                strata.dedup();
                for stratum in strata {
                    let part: Vec<FollowUp> = own
                        .iter()
                        .filter(|subject| subject.stratum == Some(stratum))
                        .copied()
                        .collect();
                    let blank = MeasureResult {
                        stratum: stratum.to_owned(),
                        ..blank.clone()
                    };
                    results.extend(summarise(measure, summary, study, &part, &blank));
                }
            }
            results
        }
        (Method::Status { .. }, Prepared::Answers(all)) => {
            let own: Vec<&Answer> = all
                .iter()
                .filter(|answer| cohort.contains(answer.index.date))
                .collect();
            vec![status(study, &own, blank)]
        }
        (Method::Count { .. }, Prepared::Events(all)) => {
            let n = all
                .iter()
                .filter(|event| cohort.contains(event.date))
                .count();
            vec![count(study, n, blank)]
        }
        (Method::Snapshot { classes, classify }, _) => {
            snapshot(study, classes, &classify(study, cohort.last), &blank)
        }
        _ => vec![blank],
    }
}

fn blank_result(measure: &Measure, cohort: &Cohort) -> MeasureResult {
    let label = cohort.label();
    let of = match measure.method {
        Method::FollowUp { .. } | Method::Status { .. } => {
            format!("{}, {label}", measure.denominator)
        }
        Method::Count { .. } => format!("dated in {label}"),
        Method::Snapshot { .. } => format!("on the last day of {}", cohort.last),
    };
    MeasureResult {
        measure: measure.id.to_owned(),
        cohort: of,
        period: label,
        stratum: "all".to_owned(),
        unit: measure.unit,
        value: Value::NotEstimable {
            reason: "nobody in this cohort".to_owned(),
        },
        numerator: None,
        denominator: None,
        n_unknown: None,
        bounds: None,
        notes: Vec::new(),
    }
}

/// The value of a cohort that has not been followed long enough.
fn not_yet(measure: &Measure, study: &Study<'_>, cohort: &Cohort) -> Option<Value> {
    let rule = &measure.rule;
    let rows_read_to = match measure.method {
        Method::FollowUp { .. } | Method::Status { .. } => {
            cohort.matures_on(rule.horizon_days, study.rules)
        }
        Method::Count { .. } | Method::Snapshot { .. } => cohort.last.end(),
    };
    if study.horizon.cut_off < rows_read_to {
        return Some(Value::NotYet {
            matures_on: rows_read_to,
        });
    }
    let limbs_to = crate::rules::days_after(cohort.last.end(), rule.horizon_days);
    let needs_limbs =
        rule.censoring == Censoring::LimbsKnownTo || matches!(measure.method, Method::Count { .. });
    (needs_limbs && study.horizon.limbs_known_to() < limbs_to).then_some(Value::NotYet {
        matures_on: limbs_to,
    })
}

fn shown(n: usize) -> Option<Count> {
    Some(Count::Shown(n as u64))
}

/// Cumulative incidence of each outcome the rule names, with cluster-robust variance and log-log limits.
/// `None` for nobody.
pub fn incidence_curves(
    rule: &Rule,
    subjects: &[FollowUp],
    level: f64,
) -> Option<CumulativeIncidence> {
    let causes: Vec<Outcome> = rule.event.iter().chain(rule.competing).copied().collect();
    let cause_of = |ending: Option<Outcome>| -> u32 {
        let position = ending.and_then(|outcome| causes.iter().position(|cause| *cause == outcome));
        position
            .and_then(|position| u32::try_from(position + 1).ok())
            .unwrap_or(0)
    };
    let exit = subjects
        .iter()
        .map(|subject| subject.exit_day as f64)
        .collect();
    let cause = subjects
        .iter()
        .map(|subject| cause_of(subject.ending))
        .collect();
    let entry = subjects
        .iter()
        .map(|subject| subject.entry_day as f64)
        .collect();
    let cluster = subjects.iter().map(|subject| subject.cluster.0).collect();
    let sample = Sample::new(exit, cause)
        .ok()?
        .with_entry(entry)
        .ok()?
        .with_cluster(cluster)
        .ok()?;
    let options = CurveOptions {
        level,
        limits: Limits::LogLog,
        variance: Variance::Robust,
    };
    aalen_johansen(&sample, &options).ok()
}

/// The curve of the first outcome the rule times; absent when it never happened.
fn main_curve(incidence: &CumulativeIncidence) -> Option<&Curve> {
    incidence.causes.iter().find(|curve| curve.cause == Some(1))
}

/// Value and limits of the main curve on a day; `None` when nobody was followed that far and some were not
/// followed to an end. A cohort whose every member has come to an end stays where it is.
fn incidence_on(
    incidence: &CumulativeIncidence,
    day: i64,
) -> Option<(f64, Option<f64>, Option<f64>)> {
    let day = day as f64;
    let last = incidence.event_free.points.last()?;
    let is_followed = day <= last.time || last.estimate <= 1e-12;
    if !is_followed {
        return None;
    }
    let Some(curve) = main_curve(incidence) else {
        return Some((0.0, None, None));
    };
    match curve.at(day.min(last.time)) {
        Some(point) => Some((point.estimate, point.lower, point.upper)),
        None => Some((0.0, None, None)),
    }
}

fn interval(lower: Option<f64>, upper: Option<f64>, level: f64, method: &str) -> Option<Interval> {
    (lower.is_some() || upper.is_some()).then(|| Interval {
        lower,
        upper,
        level,
        method: method.to_owned(),
    })
}

const WILSON: &str = "Wilson";
const ROBUST: &str = "log-log, variance robust to several ulcers of one person";

fn summarise(
    measure: &Measure,
    summary: FollowUpSummary,
    study: &Study<'_>,
    subjects: &[FollowUp],
    blank: &MeasureResult,
) -> Vec<MeasureResult> {
    let Some(incidence) = incidence_curves(&measure.rule, subjects, study.rules.confidence_level)
    else {
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
        FollowUpSummary::Median => vec![median(study, subjects, &incidence, horizon, blank)],
    }
}

/// The stratum words of a probability read on one of several days.
pub(crate) fn within(day: i64, stratum: &str) -> String {
    let days = if day == 1 {
        "within 1 day".to_owned()
    } else {
        format!("within {day} days")
    };
    if stratum == "all" {
        days
    } else {
        format!("{stratum}, {days}")
    }
}

/// One probability read from the curve, with counts and the bounds that unknown outcomes allow.
fn at_day(
    measure: &Measure,
    study: &Study<'_>,
    subjects: &[FollowUp],
    incidence: &CumulativeIncidence,
    day: i64,
    is_complement: bool,
    blank: &MeasureResult,
) -> MeasureResult {
    let rule = &measure.rule;
    let is_event = |subject: &FollowUp| {
        subject.exit_day <= day
            && subject
                .ending
                .is_some_and(|ending| rule.event.contains(&ending))
    };
    let n = subjects.len();
    let n_events = subjects.iter().filter(|subject| is_event(subject)).count();
    let n_unknown = subjects
        .iter()
        .filter(|subject| subject.ending.is_none() && subject.exit_day < day)
        .count();
    let is_counted_fully = n_unknown == 0 && n_people(subjects) == n;
    let value = match incidence_on(incidence, day) {
        None => Value::NotEstimable {
            reason: format!("nobody was followed for {day} days"),
        },
        Some((estimate, lower, upper)) => {
            // Wilson where everybody's outcome is known and nobody counts twice; otherwise the robust limits.
            let level = study.rules.confidence_level;
            let wilson = is_counted_fully
                .then(|| wilson(n_events as u64, n as u64, level))
                .flatten();
            let (lower, upper, method) = match wilson {
                Some(limits) => (Some(limits.lower), Some(limits.upper), WILSON),
                None if n_people(subjects) > 1 => (lower, upper, ROBUST),
                None => (None, None, ROBUST),
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
    if rule.known == KnownRule::Censored {
        notes.extend(gate_note(study, n - n_unknown, n));
    }
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

fn n_people(subjects: &[FollowUp]) -> usize {
    let mut people: Vec<_> = subjects.iter().map(|subject| subject.cluster).collect();
    people.sort_unstable();
    people.dedup();
    people.len()
}

/// Said when several of those counted are one person's.
fn people_note(subjects: &[FollowUp]) -> Option<String> {
    let people = n_people(subjects);
    (people < subjects.len()).then(|| {
        format!(
            "{} from {}",
            subjects.len(),
            words::counted(people, "person", "people")
        )
    })
}

/// Limits by the robust variance, which needs more than one person.
fn robust_interval(
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

fn gate_note(study: &Study<'_>, n_known: usize, n: usize) -> Option<String> {
    let share = n_known as f64 / n as f64;
    (share < study.rules.known_outcome_gate).then(|| {
        format!(
            "outcome known for {n_known} of {n}, below the {:.0}% gate: not to be relied on",
            study.rules.known_outcome_gate * 100.0
        )
    })
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
        .filter_map(|subject| Some((subject, subject.expected?)))
        .collect();
    if compared.is_empty() {
        return None;
    }
    let expected: f64 = compared.iter().map(|(_, expected)| expected).sum();
    let observed = compared
        .iter()
        .filter(|(subject, _)| {
            subject.exit_day <= measure.rule.horizon_days
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
            format!("{expected:.1} expected among {} with a known stage of {}", compared.len(), subjects.len()),
            "below 1 means fewer than the published studies saw; it does not show that care caused it".to_owned(),
        ],
        ..blank.clone()
    })
}

fn median(
    study: &Study<'_>,
    subjects: &[FollowUp],
    incidence: &CumulativeIncidence,
    horizon: i64,
    blank: &MeasureResult,
) -> MeasureResult {
    let until = horizon as f64;
    let quantile = main_curve(incidence).map(|curve| curve.quantile(0.5));
    let within = |day: Option<f64>| day.filter(|day| *day <= until);
    let lower = within(quantile.as_ref().and_then(|quantile| quantile.lower));
    let value = match within(quantile.as_ref().and_then(|quantile| quantile.estimate)) {
        Some(estimate) => {
            let upper = within(quantile.as_ref().and_then(|quantile| quantile.upper));
            Value::Known(Estimate {
                estimate,
                interval: robust_interval(study, subjects, lower, upper),
            })
        }
        None => Value::NotReached {
            lower: lower.filter(|_| n_people(subjects) > 1),
        },
    };
    let mut notes = vec![format!("read up to day {horizon}")];
    notes.extend(people_note(subjects));
    MeasureResult {
        value,
        denominator: shown(subjects.len()),
        notes,
        ..blank.clone()
    }
}

fn status(study: &Study<'_>, answers: &[&Answer], blank: MeasureResult) -> MeasureResult {
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
    let value = if n_known == 0 {
        Value::NotEstimable {
            reason: "no outcome is known".to_owned(),
        }
    } else {
        Value::Known(Estimate {
            estimate: n_yes as f64 / n_known as f64,
            interval: wilson(n_yes as u64, n_known as u64, study.rules.confidence_level).and_then(
                |limits| {
                    interval(
                        Some(limits.lower),
                        Some(limits.upper),
                        study.rules.confidence_level,
                        WILSON,
                    )
                },
            ),
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

fn count(study: &Study<'_>, n: usize, blank: MeasureResult) -> MeasureResult {
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

fn snapshot(
    study: &Study<'_>,
    classes: &[&str],
    people: &[usize],
    blank: &MeasureResult,
) -> Vec<MeasureResult> {
    let n = people.len();
    classes
        .iter()
        .enumerate()
        .map(|(position, class)| {
            let n_class = people.iter().filter(|person| **person == position).count();
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
