//! From the people a measure counts to its results, for any cohort.

use super::cohort::{Cohort, Study};
use super::follow_up::FollowUp;
use super::{Answer, Measure, Method, SeverityOutcome, expected, probability, shares};
use crate::report::{MeasureResult, Value};
use crate::rules::{Outcome, days_after};
use crate::tables::Dated;

/// The people a measure counts, found once for all cohorts.
#[derive(Debug, Clone)]
pub enum Prepared {
    /// Follow-up times.
    FollowUps(Vec<FollowUp>),
    /// Answers.
    Answers(Vec<Answer>),
    /// Ulcers with their severity.
    Severities(Vec<SeverityOutcome>),
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
        Method::Expected { subjects, .. } => Prepared::Severities(subjects(study, &measure.rule)),
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
    let blank = blank_result(measure, study, cohort);
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
            let mut results = probability::summarise(measure, summary, study, &own, &blank);
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
                    results.extend(probability::summarise(
                        measure, summary, study, &part, &blank,
                    ));
                }
            }
            results
        }
        (Method::Status { .. }, Prepared::Answers(all)) => {
            let own: Vec<&Answer> = all
                .iter()
                .filter(|answer| cohort.contains(answer.index.date))
                .collect();
            vec![shares::status(study, &own, blank)]
        }
        (Method::Expected { reference, .. }, Prepared::Severities(all)) => {
            expected::summarise(reference, study, all, cohort, &blank)
        }
        (Method::Count { .. }, Prepared::Events(all)) => {
            let n = all
                .iter()
                .filter(|event| cohort.contains(event.date))
                .count();
            vec![shares::count(study, n, blank)]
        }
        (Method::Snapshot { classes, classify }, _) => {
            shares::snapshot(study, classes, &classify(study, cohort.last), &blank)
        }
        _ => vec![blank],
    }
}

fn blank_result(measure: &Measure, study: &Study<'_>, cohort: &Cohort) -> MeasureResult {
    let label = cohort.label();
    let of = match measure.method {
        Method::FollowUp { .. } | Method::Status { .. } | Method::Expected { .. } => study
            .rules
            .fill(measure.denominator)
            .replace("the quarter", &label),
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

/// The value of a cohort that has not been followed long enough: rows, deaths and procedures must all be known as far as
/// the figure reads them. The date promised never lies before the cut-off.
fn not_yet(measure: &Measure, study: &Study<'_>, cohort: &Cohort) -> Option<Value> {
    let rule = &measure.rule;
    let horizon = study.horizon;
    let rows_to = match measure.method {
        Method::FollowUp { .. } | Method::Status { .. } | Method::Expected { .. } => {
            cohort.matures_on(rule.horizon_days, study.rules)
        }
        Method::Count { .. } | Method::Snapshot { .. } => cohort.last.end(),
    };
    let events_to = days_after(cohort.last.end(), rule.horizon_days);
    let amputations = [
        Outcome::MinorAmputation,
        Outcome::MajorAmputation,
        Outcome::BothLimbsLost,
    ];
    let reads_procedures = amputations
        .iter()
        .any(|outcome| rule.event.contains(outcome) || rule.competing.contains(outcome))
        || matches!(
            measure.method,
            Method::Status { .. } | Method::Snapshot { .. }
        );
    let knows_events = horizon.deaths_known_to >= events_to
        && (!reads_procedures || horizon.procedures_known_to >= events_to);
    let is_mature = horizon.cut_off >= rows_to && knows_events;
    let tomorrow = days_after(horizon.cut_off, 1);
    (!is_mature).then(|| Value::NotYet {
        matures_on: rows_to.max(events_to).max(tomorrow),
    })
}
