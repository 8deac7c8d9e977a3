//! Proportional hazards, with what a fit predicts and leaves over.

use super::answer::{Answer, insert};
use super::arguments::{ClockName, EstimateArguments};
use super::covariates::{column_names, covariates};
use super::fit::{
    NOTHING_FINITE, begun, model, name_errors, predicted, stratum_name, test, ties,
    with_times_asked,
};
use super::follow_up::FollowUp;
use crate::failure::Failure;
use clap::ValueEnum as _;
use serde_json::{Map, Value, json};
use survival::Sample;
use survival::regression::concordance::TimeWeight;
use survival::regression::cox::{Baseline, CoxFit, CoxOptions, Ties, TimeTransform, cox};
use survival::regression::{Covariates, ModelTest};

pub(super) fn cox_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let mut rows = FollowUp::read(arguments, &column_names(arguments))?;
    if arguments.clock == ClockName::Gap {
        rows.sample = since_own_entry(&rows)?;
    }
    let covariates = covariates(arguments, &rows.table)?;
    let options = CoxOptions {
        ties: ties(arguments.ties, Ties::Efron),
        level: arguments.level,
        cause: rows.event,
    };
    let strata = rows.strata.as_ref().map(|strata| strata.codes.as_slice());
    let refuse = |error| rows.table.refusal(&error);
    let fit = cox(&rows.sample, &covariates, strata, &options).map_err(refuse)?;
    let mut answer = begun(arguments, &rows);
    answer.option("ties", options.ties);
    answer.option("clock", word_of(arguments.clock));
    if !arguments.profile.is_empty() {
        answer.option("profile", &arguments.profile);
    }
    if let Some(column) = &arguments.adjusted_by {
        answer.option("adjusted_by", column);
    }
    let mut model = model(&fit.terms, fit.log_likelihood, fit.log_likelihood_null);
    name_errors(&mut model, fit.robust_covariance.is_some());
    insert(&mut model, "covariance", &fit.covariance);
    insert(&mut model, "robust_covariance", &fit.robust_covariance);
    insert(&mut model, "n_events", fit.n_events);
    if let Some(concordance) = fit.concordance(TimeWeight::default()) {
        insert(&mut model, "concordance", concordance.estimate);
        insert(&mut model, "concordance_std_error", concordance.std_error);
    }
    answer.part("model", Value::Object(model));
    let mut tests = vec![
        test("likelihood-ratio", Some(&fit.likelihood_ratio_test)),
        test("score", Some(&fit.score_test)),
        test("wald", fit.wald_test.as_ref()),
    ];
    if fit.robust_covariance.is_some() {
        let robust = fit.robust_score_test().map_err(refuse)?;
        tests.push(test("robust-score", Some(&robust)));
    }
    answer.part("tests", json!(tests));
    if options.ties != Ties::Exact && fit.has_finite_estimates() {
        answer.part("proportional_hazards", proportional_hazards(&fit));
    }
    if options.ties == Ties::Exact || fit.has_finite_estimates() {
        add_predictions(arguments, &fit, &rows, &covariates, &mut answer)?;
    } else if has_predictions(arguments) {
        answer.note(NOTHING_FINITE);
    }
    for note in &fit.notes {
        answer.note(note);
    }
    Ok(answer.finished())
}

fn has_predictions(arguments: &EstimateArguments) -> bool {
    let of_rows = arguments.baseline || arguments.residuals;
    of_rows || !arguments.profile.is_empty() || arguments.adjusted_by.is_some()
}

/// What was asked for besides the coefficients.
fn add_predictions(
    arguments: &EstimateArguments,
    fit: &CoxFit,
    rows: &FollowUp,
    covariates: &Covariates,
    answer: &mut Answer,
) -> Result<(), Failure> {
    if arguments.baseline {
        let baselines = fit.baseline().map_err(|error| rows.table.refusal(&error))?;
        answer.part("baseline", baseline(&baselines, rows));
    }
    if arguments.residuals {
        answer.part("residuals", residuals(fit, rows)?);
        answer.part("event_residuals", event_residuals(fit, rows)?);
    }
    for (group, profiles) in predicted(arguments, rows, covariates)? {
        for curve in curves(arguments, fit, rows, &profiles)? {
            let mut object = curve;
            insert(&mut object, "group", &group);
            answer.curve(Value::Object(object));
        }
    }
    Ok(())
}

/// The test of proportional hazards by every function of time that is defined for the rows.
fn proportional_hazards(fit: &CoxFit) -> Value {
    let transforms = [
        TimeTransform::KaplanMeier,
        TimeTransform::Rank,
        TimeTransform::Identity,
        TimeTransform::Log,
    ];
    let tests = transforms
        .into_iter()
        .filter_map(|transform| fit.proportionality_test(transform).ok());
    let one = |name: &str, found: Option<&ModelTest>| {
        let mut value = test(name, found);
        if let Some(object) = value.as_object_mut()
            && let Some(name) = object.remove("name")
        {
            insert(object, "term", name);
        }
        value
    };
    tests
        .map(|found| {
            let terms = found.terms.iter();
            let terms: Vec<Value> = terms
                .map(|of_term| one(&of_term.term, of_term.test.as_ref()))
                .collect();
            json!({
                "transform": found.transform,
                "terms": terms,
                "global": one("all", Some(&found.global)),
            })
        })
        .collect()
}

fn word_of(clock: ClockName) -> String {
    clock
        .to_possible_value()
        .map_or_else(String::new, |value| value.get_name().to_owned())
}

/// The rows with their time running from their own entry.
fn since_own_entry(rows: &FollowUp) -> Result<Sample, Failure> {
    let sample = &rows.sample;
    let Some(entry) = sample.entry() else {
        return Err(Failure::with_hint(
            "`--clock gap` needs `--entry`",
            "each row's time then runs from its own entry, the event before",
        ));
    };
    let spans = sample
        .exit()
        .iter()
        .zip(entry)
        .map(|(exit, entry)| exit - entry);
    let refuse = |error| rows.table.refusal(&error);
    let mut since = Sample::new(spans.collect(), sample.cause().to_vec()).map_err(refuse)?;
    if let Some(weight) = sample.weight() {
        since = since.with_weight(weight.to_vec()).map_err(refuse)?;
    }
    if let Some(cluster) = sample.cluster() {
        since = since.with_cluster(cluster.to_vec()).map_err(refuse)?;
    }
    Ok(since)
}

fn baseline(baselines: &[Baseline], rows: &FollowUp) -> Value {
    let steps = baselines.iter().flat_map(|baseline| {
        baseline.steps.iter().map(|step| {
            let mut object = Map::new();
            insert(&mut object, "time", step.time);
            insert(&mut object, "cumulative_hazard", step.cumulative_hazard);
            if let Some(stratum) = stratum_name(rows, baseline.stratum) {
                insert(&mut object, "stratum", stratum);
            }
            Value::Object(object)
        })
    });
    steps.collect()
}

/// A line a row in use, in the order of the file; a field for each term of what has one.
fn residuals(fit: &CoxFit, rows: &FollowUp) -> Result<Value, Failure> {
    let found = fit
        .residuals()
        .map_err(|error| rows.table.refusal(&error))?;
    let lines = found.martingale.iter().zip(&found.deviance).enumerate();
    Ok(lines
        .map(|(row, (martingale, deviance))| {
            let mut object = Map::new();
            insert(&mut object, "row", rows.table.record(row));
            insert(&mut object, "martingale", martingale);
            insert(&mut object, "deviance", deviance);
            for (kind, column) in [("score", &found.score), ("dfbeta", &found.dfbeta)] {
                let values = column.get(row).and_then(Option::as_ref);
                for (place, term) in fit.terms.iter().enumerate() {
                    let value = values.and_then(|values| values.get(place));
                    insert(&mut object, &format!("{kind} {}", term.term), value);
                }
            }
            Value::Object(object)
        })
        .collect())
}

/// A line an event, by stratum and time.
fn event_residuals(fit: &CoxFit, rows: &FollowUp) -> Result<Value, Failure> {
    let found = fit
        .event_residuals()
        .map_err(|error| rows.table.refusal(&error))?;
    let lines = found.iter().map(|event| {
        let mut object = Map::new();
        insert(&mut object, "row", rows.table.record(event.row));
        insert(&mut object, "time", event.time);
        if let Some(stratum) = stratum_name(rows, event.stratum) {
            insert(&mut object, "stratum", stratum);
        }
        for (kind, values) in [("residual", &event.residual), ("scaled", &event.scaled)] {
            for (term, value) in fit.terms.iter().zip(values) {
                insert(&mut object, &format!("{kind} {}", term.term), value);
            }
        }
        Value::Object(object)
    });
    Ok(lines.collect())
}

/// The curve of each stratum, averaged over the rows given, at the event times and those asked for.
fn curves(
    arguments: &EstimateArguments,
    fit: &CoxFit,
    rows: &FollowUp,
    profiles: &Covariates,
) -> Result<Vec<Map<String, Value>>, Failure> {
    let refuse = |error| rows.table.refusal(&error);
    let baselines = fit.baseline().map_err(refuse)?;
    baselines
        .iter()
        .map(|baseline| {
            let of_events = baseline.steps.iter().map(|step| step.time);
            let times = with_times_asked(arguments, of_events)?;
            let curve = fit
                .adjusted_curve(profiles, baseline.stratum, &times)
                .map_err(refuse)?;
            let mut object = Map::new();
            if let Some(stratum) = stratum_name(rows, baseline.stratum) {
                insert(&mut object, "stratum", stratum);
            }
            insert(&mut object, "quantity", "event-free");
            insert(&mut object, "level", curve.level);
            insert(&mut object, "limits", "log");
            insert(&mut object, "variance", "baseline and coefficients");
            insert(&mut object, "points", curve.points);
            Ok(object)
        })
        .collect()
}
