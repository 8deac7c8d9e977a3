//! Cumulative incidence of what a rule times.

use super::follow_up::FollowUp;
use crate::rules::{Outcome, Rule};
use crate::tables::PatientKey;
use survival::{
    CumulativeIncidence, CurveOptions, IncidenceOfCause, Limits, Sample, Variance, aalen_johansen,
    incidence_of_cause,
};

/// Cumulative incidence of the event (cause 1, whatever it is made of) and of each competing outcome (2 and up, in the
/// rule's order), with cluster-robust variance and log-log limits.
/// `None` for nobody.
pub fn incidence_curves(
    rule: &Rule,
    subjects: &[FollowUp],
    level: f64,
) -> Option<CumulativeIncidence> {
    let options = CurveOptions {
        level,
        limits: Limits::LogLog,
        variance: Variance::Robust,
    };
    aalen_johansen(&sample_of(rule, subjects)?, &options).ok()
}

/// The same of the event alone, digit for digit, with what is left without an outcome at the end.
pub(super) fn main_incidence(
    rule: &Rule,
    subjects: &[FollowUp],
    level: f64,
) -> Option<IncidenceOfCause> {
    let options = CurveOptions {
        level,
        limits: Limits::LogLog,
        variance: Variance::Robust,
    };
    incidence_of_cause(&sample_of(rule, subjects)?, 1, &options).ok()
}

/// Follow-up times as columns: the event is cause 1, whatever it is made of, competing outcomes are 2 and up in
/// the order of the rule, people are clusters. `None` for nobody.
pub(crate) fn sample_of(rule: &Rule, subjects: &[FollowUp]) -> Option<Sample> {
    let cause_of = |ending: Option<Outcome>| -> u32 {
        let Some(outcome) = ending else {
            return 0;
        };
        if rule.event.contains(&outcome) {
            return 1;
        }
        let mut competing = rule.competing.iter();
        let position = competing.position(|cause| *cause == outcome);
        position
            .and_then(|position| u32::try_from(position + 2).ok())
            .unwrap_or(0)
    };
    let exit = subjects
        .iter()
        .map(|subject| f64::from(subject.exit_day))
        .collect();
    let cause = subjects
        .iter()
        .map(|subject| cause_of(subject.ending))
        .collect();
    let entry = subjects
        .iter()
        .map(|subject| f64::from(subject.entry_day))
        .collect();
    let cluster = subjects.iter().map(|subject| subject.cluster.0).collect();
    Sample::new(exit, cause)
        .and_then(|sample| sample.with_entry(entry))
        .and_then(|sample| sample.with_cluster(cluster))
        .ok()
}

/// For each subject the last day on which its outcome was known not to have come; its exit where the day is known.
pub(crate) fn not_yet_days(subjects: &[FollowUp]) -> Vec<f64> {
    subjects
        .iter()
        .map(|subject| f64::from(subject.not_yet_day.unwrap_or(subject.exit_day).max(0)))
        .collect()
}

/// Value and limits of the main curve on a day; `None` when nobody was followed that far and some were not
/// followed to an end. A cohort whose every member has come to an end stays where it is.
pub(super) fn incidence_on(
    incidence: &IncidenceOfCause,
    day: i64,
) -> Option<(f64, Option<f64>, Option<f64>)> {
    let day = day as f64;
    let (last_day, event_free) = incidence.event_free_at_last?;
    let is_followed = day <= last_day || event_free <= 1e-12;
    if !is_followed {
        return None;
    }
    let Some(curve) = &incidence.curve else {
        return Some((0.0, None, None));
    };
    match curve.at(day.min(last_day)) {
        Some(point) => Some((point.estimate, point.lower, point.upper)),
        None => Some((0.0, None, None)),
    }
}

/// Robust limits of a share of answers of which one person may give several: a cumulative incidence with everybody's
/// answer on one day.
pub(super) fn clustered_share(
    answers: impl Iterator<Item = (bool, PatientKey)>,
    level: f64,
) -> Option<(Option<f64>, Option<f64>)> {
    let (cause, cluster): (Vec<u32>, Vec<u32>) = answers
        .map(|(is_yes, person)| (if is_yes { 1 } else { 2 }, person.0))
        .unzip();
    let exit = vec![1.0; cause.len()];
    let sample = Sample::new(exit, cause).ok()?.with_cluster(cluster).ok()?;
    let options = CurveOptions {
        level,
        limits: Limits::LogLog,
        variance: Variance::Robust,
    };
    let incidence = incidence_of_cause(&sample, 1, &options).ok()?;
    let point = incidence.curve.as_ref()?.at(1.0)?;
    Some((point.lower, point.upper))
}
