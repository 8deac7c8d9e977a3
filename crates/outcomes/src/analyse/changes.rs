//! What became of the figures of an earlier report, and why: the same figures made again step by step, one thing changed at a
//! time.

use super::declared::as_declared;
use crate::measure::{Cohort, Measure, Study, evaluate, prepare_all};
use crate::report::{Cause, ChangeCount, ChangedResult, Changes, MeasureResult, Value, words};
use crate::rules::{DataHorizon, DeclaredDates, Quarter, Rules, SETTINGS};

/// What a run was made from, as far as a comparison needs it.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Program and version.
    pub program: String,
    /// SHA-256 of the layout.
    pub layout_sha256: String,
    /// SHA-256 of each input, in reading order.
    pub inputs_sha256: Vec<String>,
    /// Reporting quarter.
    pub quarter: Quarter,
    /// What the export could know.
    pub horizon: DataHorizon,
    /// The settings.
    pub rules: Rules,
}

impl Run {
    /// Whether both read the same rows in the same way.
    pub fn reads_as(&self, other: &Self) -> bool {
        self.layout_sha256 == other.layout_sha256 && self.inputs_sha256 == other.inputs_sha256
    }
}

/// The figures after one more thing has changed.
#[derive(Debug, Clone, PartialEq)]
pub struct ChangeStep {
    /// What has changed since the step before.
    pub cause: Cause,
    /// The figures, in any order.
    pub results: Vec<MeasureResult>,
}

/// Makes figures again, for the same cohorts, from another study. A cohort that a measure has no words for is left out.
pub fn results_again(
    measures: &[&'static Measure],
    study: &Study<'_>,
    dates: &DeclaredDates,
    wanted: &[MeasureResult],
) -> Vec<MeasureResult> {
    let asked = |measure: &Measure| {
        let mut cohorts: Vec<Cohort> = Vec::new();
        for result in wanted.iter().filter(|result| result.measure == measure.id) {
            cohorts
                .extend(Cohort::parse(&result.period).filter(|cohort| !cohorts.contains(cohort)));
        }
        cohorts
    };
    let measures: Vec<&'static Measure> = measures
        .iter()
        .copied()
        .filter(|measure| wanted.iter().any(|result| result.measure == measure.id))
        .collect();
    let prepared = prepare_all(&measures, study);
    measures
        .iter()
        .zip(&prepared)
        .flat_map(|(measure, prepared)| {
            let cohorts = asked(measure);
            let again = |cohort: &Cohort| {
                let results = evaluate(measure, prepared, study, cohort);
                as_declared(dates, measure, cohort, results)
            };
            cohorts.iter().flat_map(again).collect::<Vec<_>>()
        })
        .collect()
}

/// Compares the figures an earlier report printed with what each step makes of them. The last step is the present.
pub fn changes(
    earlier: &[MeasureResult],
    before: &Run,
    after: &Run,
    steps: &[ChangeStep],
) -> Changes {
    let (mut restatements, mut others) = (Vec::new(), Vec::new());
    for result in earlier {
        let Some(changed) = followed_through(result, steps) else {
            continue;
        };
        let now = changed.after.as_ref();
        let is_restated = has_value(result) && now.is_some_and(has_value);
        if is_restated {
            restatements.push(changed);
        } else {
            others.push(changed);
        }
    }
    let differences = differences(before, after);
    Changes {
        earlier_quarter: before.quarter.to_string(),
        earlier_cut_off: before.horizon.cut_off,
        sentences: sentences(earlier.len(), &restatements, &others, before, after),
        counts: counts(&restatements, &others),
        differences,
        restatements,
        others,
    }
}

/// The same figure through all steps; `None` when it ends as it began.
fn followed_through(result: &MeasureResult, steps: &[ChangeStep]) -> Option<ChangedResult> {
    let mut causes = Vec::new();
    let mut last = Some(result);
    for step in steps {
        let now = step
            .results
            .iter()
            .find(|other| is_same_figure(result, other));
        let is_same = match (last, now) {
            (Some(last), Some(now)) => says_the_same(last, now),
            (None, None) => true,
            _ => false,
        };
        if !is_same {
            causes.push(step.cause);
        }
        last = now;
    }
    let is_as_before = last.is_some_and(|last| says_the_same(result, last));
    (!is_as_before).then(|| ChangedResult {
        before: result.clone(),
        after: last.cloned(),
        causes,
    })
}

fn is_same_figure(one: &MeasureResult, other: &MeasureResult) -> bool {
    (&one.measure, &one.period, &one.stratum, one.unit)
        == (&other.measure, &other.period, &other.stratum, other.unit)
}

fn has_value(result: &MeasureResult) -> bool {
    matches!(result.value, Value::Known(_) | Value::NotReached { .. })
}

/// Whether value, limits and counts are the same. Printed numbers carry ten significant digits, so they are compared to nine.
pub(super) fn says_the_same(one: &MeasureResult, other: &MeasureResult) -> bool {
    let counts = |result: &MeasureResult| (result.numerator, result.denominator, result.n_unknown);
    counts(one) == counts(other) && is_same_value(&one.value, &other.value)
}

fn is_same_value(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Known(one), Value::Known(other)) => {
            let ends = |value: &crate::report::Estimate| {
                let interval = value.interval.as_ref();
                interval.map(|interval| (interval.lower, interval.upper))
            };
            let same_ends = match (ends(one), ends(other)) {
                (Some(one), Some(other)) => {
                    is_same_end(one.0, other.0) && is_same_end(one.1, other.1)
                }
                (one, other) => one.is_none() && other.is_none(),
            };
            is_same_number(one.estimate, other.estimate) && same_ends
        }
        (Value::NotReached { lower: one }, Value::NotReached { lower: other }) => {
            is_same_end(*one, *other)
        }
        (one, other) => one == other,
    }
}

fn is_same_end(one: Option<f64>, other: Option<f64>) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => is_same_number(one, other),
        (one, other) => one.is_none() && other.is_none(),
    }
}

fn is_same_number(one: f64, other: f64) -> bool {
    one == other || (one - other).abs() <= 1e-9 * one.abs().max(other.abs()).max(1e-6)
}

fn causes_words(causes: &[Cause]) -> String {
    let codes: Vec<&str> = causes.iter().map(|cause| cause.code()).collect();
    codes.join(", ")
}

fn counts(restatements: &[ChangedResult], others: &[ChangedResult]) -> Vec<ChangeCount> {
    let mut counts: Vec<ChangeCount> = Vec::new();
    for changed in restatements.iter().chain(others) {
        let causes = causes_words(&changed.causes);
        let measure = &changed.before.measure;
        let place = counts
            .iter()
            .position(|count| count.measure == *measure && count.causes == causes);
        let place = place.unwrap_or_else(|| {
            counts.push(ChangeCount {
                measure: measure.clone(),
                causes,
                n_restated: 0,
                n_new: 0,
                n_gone: 0,
            });
            counts.len() - 1
        });
        let is_given_now = changed.after.as_ref().is_some_and(has_value);
        match (has_value(&changed.before), is_given_now) {
            (true, true) => counts[place].n_restated += 1,
            (false, true) => counts[place].n_new += 1,
            _ => counts[place].n_gone += 1,
        }
    }
    counts
}

fn sentences(
    n: usize,
    restatements: &[ChangedResult],
    others: &[ChangedResult],
    before: &Run,
    after: &Run,
) -> Vec<String> {
    let n_new = others
        .iter()
        .filter(|changed| changed.after.as_ref().is_some_and(has_value))
        .count();
    let n_gone = others.len() - n_new;
    let mut sentences = vec![format!(
        "The report of {} (data to {}) printed {}. Each was made again: {}.",
        before.quarter,
        words::date(before.horizon.cut_off),
        words::counted(n, "figure", "figures"),
        if restatements.is_empty() && others.is_empty() {
            "all are the same".to_owned()
        } else {
            let n_same = n - restatements.len() - others.len();
            format!("{} are the same", words::whole(n_same as u64))
        }
    )];
    if !restatements.is_empty() {
        sentences.push(format!(
            "{} had a value then and {} another now: {}.",
            words::counted(restatements.len(), "figure", "figures"),
            if restatements.len() == 1 {
                "has"
            } else {
                "have"
            },
            by_cause(restatements)
        ));
    }
    if n_new > 0 {
        sentences.push(format!(
            "{} could not be given then and can be given now, mostly because the people have been followed long enough.",
            words::counted(n_new, "figure", "figures")
        ));
    }
    if n_gone > 0 {
        sentences.push(format!(
            "{} cannot be given any more, or not for the same reason.",
            words::counted(n_gone, "figure", "figures")
        ));
    }
    let had_value = others.iter().filter(|changed| has_value(&changed.before));
    let mut causes = restatements
        .iter()
        .chain(had_value)
        .flat_map(|changed| &changed.causes);
    let is_by_new_data = |cause: &Cause| matches!(cause, Cause::NewData | Cause::NotToldApart);
    if before.horizon != after.horizon && !causes.any(is_by_new_data) {
        sentences.push("No figure that had a value was changed by new data alone, as it should be: a figure reads rows only as far as its horizon and the evidence days.".to_owned());
    }
    sentences
}

/// `3 by corrected data, 1 by changed settings`.
fn by_cause(changed: &[ChangedResult]) -> String {
    let mut tally: Vec<(String, usize)> = Vec::new();
    for changed in changed {
        let words = causes_words(&changed.causes);
        match tally.iter_mut().find(|(known, _)| *known == words) {
            Some((_, n)) => *n += 1,
            None => tally.push((words, 1)),
        }
    }
    let parts: Vec<String> = tally
        .iter()
        .map(|(words, n)| format!("{n} by {words}"))
        .collect();
    parts.join("; ")
}

/// What is different between two runs, a sentence each.
fn differences(before: &Run, after: &Run) -> Vec<String> {
    let mut said = Vec::new();
    if before.program != after.program {
        said.push(format!(
            "The program was {} and is {}.",
            before.program, after.program
        ));
    }
    if before.inputs_sha256 != after.inputs_sha256 {
        said.push("The export files are other files than then.".to_owned());
    }
    if before.layout_sha256 != after.layout_sha256 {
        said.push(
            "The layout was changed; what that does to a figure is counted among corrected data."
                .to_owned(),
        );
    }
    for (what, then, now) in [
        (
            "Data start",
            before.horizon.data_start,
            after.horizon.data_start,
        ),
        ("The cut-off", before.horizon.cut_off, after.horizon.cut_off),
        (
            "The day to which deaths are known",
            before.horizon.deaths_known_to,
            after.horizon.deaths_known_to,
        ),
        (
            "The day to which procedures are known",
            before.horizon.procedures_known_to,
            after.horizon.procedures_known_to,
        ),
    ] {
        if then != now {
            said.push(format!(
                "{what} was {} and is {}.",
                words::date(then),
                words::date(now)
            ));
        }
    }
    for setting in SETTINGS {
        let (then, now) = (
            (setting.value)(&before.rules),
            (setting.value)(&after.rules),
        );
        if then != now {
            said.push(format!(
                "The setting {} was {then} and is {now}.",
                setting.name
            ));
        }
    }
    said
}
