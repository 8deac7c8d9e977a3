//! Healing with those who stayed weighted so that they stand for those who were lost from sight, as far as the severity of
//! their ulcers at the first visit tells them apart.
//!
//! The chance of not having been lost is a proportional hazards model of loss on the severity items. An ulcer whose outcome
//! by the day is known weighs 1 over the chance that it was still followed when the outcome came. Source: Robins and
//! Finkelstein, Biometrics 2000;56:779-788 (from memory); without items it is the cumulative incidence itself (Satten and
//! Datta, Am Stat 2001;55:207-210, from memory).

use super::Measure;
use super::cohort::Study;
use super::follow_up::FollowUp;
use super::probability::{n_people, people_note};
use super::shares::{gate_note, interval, shown};
use crate::expectation::SeverityItems;
use crate::report::words::{counted, decimal, value};
use crate::report::{Estimate, MeasureResult, Value};
use std::collections::BTreeMap;
use survival::regression::cox::{CoxFit, CoxOptions, cox};
use survival::regression::{Covariate, Covariates, Estimability, Term};
use survival::weighting::effective_size;
use survival::{CurveOptions, Limits, Sample, Variance, incidence_of_cause};

/// Names of the model's items; an item that some ulcers lack has a second column.
const ITEMS: [&str; 3] = [
    "older than 2 months",
    "larger than 2 square cm",
    "grade 3 or more",
];

/// The share healed by the measure's horizon among ulcers with a known outcome, each weighted by one over its chance of
/// being known. Not made where too few were lost to model the loss.
pub(super) fn weighted_for_loss(
    measure: &Measure,
    study: &Study<'_>,
    subjects: &[FollowUp],
    unweighted: MeasureResult,
) -> MeasureResult {
    let Value::Known(_) = unweighted.value else {
        return unweighted;
    };
    let day = measure.rule.horizon_days;
    let beside = format!("not weighted: {}", value(&unweighted));
    match weights(study, subjects, day) {
        Err(reason) => MeasureResult {
            value: Value::NotEstimable { reason },
            bounds: None,
            notes: vec![beside],
            ..unweighted
        },
        Ok((weights, redundant)) => {
            let is_healed = |subject: &FollowUp| {
                let ending = subject.ending;
                i64::from(subject.exit_day) <= day
                    && ending.is_some_and(|ending| measure.rule.event.contains(&ending))
            };
            let known: Vec<(&FollowUp, f64)> = subjects
                .iter()
                .zip(weights)
                .filter_map(|(subject, weight)| Some((subject, weight?)))
                .collect();
            let n_known = known.len();
            let mut notes = vec![beside];
            notes.extend(weights_note(&known));
            notes.extend(redundant_note(&redundant));
            notes.extend(people_note(subjects));
            notes.extend(gate_note(study, n_known, subjects.len()));
            MeasureResult {
                value: weighted_share(study, &known, is_healed),
                numerator: shown(known.iter().filter(|(own, _)| is_healed(own)).count()),
                denominator: shown(n_known),
                notes,
                ..unweighted
            }
        }
    }
}

/// One weight a subject, in order, `None` for those lost before the day; and the terms that the model of loss left out.
type Weights = (Vec<Option<f64>>, Vec<String>);

/// Weights, or why there are none. A term that repeats what others tell is left out; it would change no chance.
fn weights(study: &Study<'_>, subjects: &[FollowUp], day: i64) -> Result<Weights, String> {
    let is_lost =
        |subject: &FollowUp| subject.ending.is_none() && i64::from(subject.exit_day) < day;
    let n_lost = subjects.iter().filter(|subject| is_lost(subject)).count();
    if subjects.iter().any(|subject| subject.entry_day > 0) {
        return Err("not made with a clock that starts before the first visit here".to_owned());
    }
    if n_lost == 0 {
        return Err(format!(
            "nobody was lost from sight before day {day}, so there is nothing to weight"
        ));
    }
    let columns = columns(subjects);
    let fit = fit(subjects, &columns, day, is_lost);
    let redundant: Vec<String> = fit.iter().flat_map(redundant_terms).collect();
    let n_terms = columns.len() - redundant.len();
    let n_per_term = usize::try_from(study.rules.model_events_per_term).unwrap_or(usize::MAX);
    let n_needed = n_per_term.saturating_mul(n_terms.max(1));
    let n_known = subjects.len() - n_lost;
    if n_terms == 0 || n_lost.min(n_known) < n_needed {
        return Err(format!(
            "a model of loss with {} needs {n_needed} ulcers lost from sight and {n_needed} not; there were {n_lost} and {n_known}",
            counted(n_terms.max(1), "term", "terms")
        ));
    }
    let refused = || "the model of loss could not be fitted".to_owned();
    let fit = fit.ok_or_else(refused)?;
    let is_endless = |term: &&Term| {
        !matches!(
            term.estimability,
            Estimability::Estimated | Estimability::Redundant
        )
    };
    if let Some(term) = fit.terms.iter().find(is_endless) {
        return Err(format!(
            "loss cannot be told apart by the item `{}`",
            term.term
        ));
    }
    let mut chances: BTreeMap<Vec<u64>, Vec<Option<f64>>> = BTreeMap::new();
    let days: Vec<f64> = (0..=day).map(|day| day as f64).collect();
    let mut weights = Vec::with_capacity(subjects.len());
    for (place, subject) in subjects.iter().enumerate() {
        if is_lost(subject) {
            weights.push(None);
            continue;
        }
        let profile: Vec<f64> = columns.iter().map(|column| column.values[place]).collect();
        let key: Vec<u64> = profile.iter().map(|value| value.to_bits()).collect();
        let chances = chances.entry(key).or_insert_with(|| {
            let curve = fit.curve(&profile, 0, &days);
            curve.map_or(Vec::new(), |curve| {
                curve.points.iter().map(|point| point.estimate).collect()
            })
        });
        // An outcome comes before a loss on the same day.
        let known_on = usize::try_from(i64::from(subject.exit_day).clamp(0, day)).unwrap_or(0);
        let chance = chances.get(known_on).copied().flatten();
        let chance = chance.filter(|chance| *chance > 0.0).ok_or_else(refused)?;
        weights.push(Some(1.0 / chance));
    }
    Ok((weights, redundant))
}

/// Names of the terms that do not differ where it matters, or repeat a combination of others.
fn redundant_terms(fit: &CoxFit) -> impl Iterator<Item = String> {
    let terms = fit.terms.iter();
    terms
        .filter(|term| term.estimability == Estimability::Redundant)
        .map(|term| term.term.clone())
}

fn redundant_note(redundant: &[String]) -> Option<String> {
    let names: Vec<String> = redundant.iter().map(|name| format!("`{name}`")).collect();
    (!names.is_empty()).then(|| {
        format!(
            "left out of the model of loss, because other items tell the same: {}",
            names.join(", ")
        )
    })
}

/// The items that differ between subjects, as 0 and 1; where some lack an item a second column says so.
fn columns(subjects: &[FollowUp]) -> Vec<Covariate> {
    let item = |subject: &FollowUp, place: usize| {
        let items = subject.severity.unwrap_or_default();
        let SeverityItems {
            is_older_than_2_months,
            is_larger_than_2_cm2,
            is_grade_3_or_more,
        } = items;
        let all = [
            is_older_than_2_months,
            is_larger_than_2_cm2,
            is_grade_3_or_more,
        ];
        all.get(place).copied().flatten()
    };
    let mut columns = Vec::new();
    for (place, name) in ITEMS.iter().enumerate() {
        for (name, wanted) in [
            ((*name).to_owned(), Some(true)),
            (format!("{name}: not recorded"), None),
        ] {
            let values: Vec<f64> = subjects
                .iter()
                .map(|subject| f64::from(u8::from(item(subject, place) == wanted)))
                .collect();
            let varies = values.iter().any(|value| *value > 0.5);
            if varies && values.iter().any(|value| *value < 0.5) {
                columns.push(Covariate { name, values });
            }
        }
    }
    columns
}

fn fit(
    subjects: &[FollowUp],
    columns: &[Covariate],
    day: i64,
    is_lost: impl Fn(&FollowUp) -> bool,
) -> Option<CoxFit> {
    let (exit, cause): (Vec<f64>, Vec<u32>) = subjects
        .iter()
        .map(|subject| {
            if is_lost(subject) {
                // After everything else of its day.
                (f64::from(subject.exit_day) + 0.5, 1)
            } else {
                (i64::from(subject.exit_day).min(day) as f64, 0)
            }
        })
        .unzip();
    let cluster = subjects.iter().map(|subject| subject.cluster.0).collect();
    let sample = Sample::new(exit, cause).ok()?.with_cluster(cluster).ok()?;
    let covariates = Covariates::new(subjects.len(), columns.to_vec()).ok()?;
    cox(&sample, &covariates, None, &CoxOptions::default()).ok()
}

/// A weighted share of answers, limits robust to several ulcers of one person and taking the weights as known.
fn weighted_share(
    study: &Study<'_>,
    known: &[(&FollowUp, f64)],
    is_healed: impl Fn(&FollowUp) -> bool,
) -> Value {
    let sum: f64 = known.iter().map(|(_, weight)| weight).sum();
    let healed = known.iter().filter(|(subject, _)| is_healed(subject));
    let estimate = healed.map(|(_, weight)| weight).sum::<f64>() / sum;
    let level = study.rules.confidence_level;
    let limits = || {
        let cause = known
            .iter()
            .map(|(own, _)| if is_healed(own) { 1 } else { 2 });
        let cluster = known.iter().map(|(own, _)| own.cluster.0).collect();
        let weight = known.iter().map(|(_, weight)| *weight).collect();
        let sample = Sample::new(vec![1.0; known.len()], cause.collect())
            .and_then(|sample| sample.with_cluster(cluster))
            .and_then(|sample| sample.with_weight(weight))
            .ok()?;
        let options = CurveOptions {
            level,
            limits: Limits::LogLog,
            variance: Variance::Robust,
        };
        let incidence = incidence_of_cause(&sample, 1, &options).ok()?;
        let point = incidence.curve.as_ref()?.at(1.0)?;
        let method =
            "log-log, variance robust to several ulcers of one person, weights taken as known";
        interval(point.lower, point.upper, level, method)
    };
    let people: Vec<FollowUp> = known.iter().map(|(subject, _)| **subject).collect();
    if sum <= 0.0 {
        return Value::NotEstimable {
            reason: "no outcome is known".to_owned(),
        };
    }
    Value::Known(Estimate {
        estimate,
        interval: (n_people(&people) > 1).then(limits).flatten(),
    })
}

/// How far the weights reach, and how many equally weighted ulcers they are worth.
fn weights_note(known: &[(&FollowUp, f64)]) -> Option<String> {
    let weights: Vec<f64> = known.iter().map(|(_, weight)| *weight).collect();
    let smallest = weights.iter().copied().reduce(f64::min)?;
    let largest = weights.iter().copied().reduce(f64::max)?;
    let effective = effective_size(&weights).effective?;
    Some(format!(
        "weights from {} to {}; the {} known weigh as much as {effective:.0} of equal weight",
        decimal(smallest, 2),
        decimal(largest, 2),
        known.len()
    ))
}
