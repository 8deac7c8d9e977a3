//! What the answers of all regressions share: the model, its tests, and the rows to predict for.

use super::answer::{Answer, insert};
use super::arguments::{EstimateArguments, TiesName};
use super::covariates::{Fixed, column_names, fixed_at, levels};
use super::follow_up::FollowUp;
use crate::failure::Failure;
use serde::Serialize;
use serde_json::{Map, Value, json};
use survival::regression::cox::Ties;
use survival::regression::{Covariates, ModelTest};

/// Said where a curve, a baseline or residuals were asked for.
pub(super) const NOTHING_FINITE: &str = "a covariate separates the rows: without a finite coefficient there is no baseline, curve or residual";

/// An answer about follow-up rows, with the level and the event.
pub(super) fn begun(arguments: &EstimateArguments, rows: &FollowUp) -> Answer {
    let mut answer = Answer::new(arguments, rows.sample.len(), rows.table.n_left_out);
    answer.option("level", arguments.level);
    answer.option("event", rows.event_json().unwrap_or_else(|| json!("any")));
    answer
}

/// A model with what all of them have.
pub(super) fn model(
    terms: &impl Serialize,
    log_likelihood: f64,
    log_likelihood_null: f64,
) -> Map<String, Value> {
    let mut model = Map::new();
    insert(&mut model, "terms", terms);
    insert(&mut model, "log_likelihood", log_likelihood);
    insert(&mut model, "log_likelihood_null", log_likelihood_null);
    model
}

/// Names the errors that the limits and tests of terms rest on.
pub(super) fn name_errors(model: &mut Map<String, Value>, is_robust: bool) {
    let variance = if is_robust { "robust" } else { "model-based" };
    insert(model, "limits", "wald");
    insert(model, "variance", variance);
}

/// A test by its name, or that it has no value.
pub(super) fn test(name: &str, test: Option<&ModelTest>) -> Value {
    match test {
        Some(test) => json!({
            "name": name,
            "statistic": test.statistic,
            "df": test.df,
            "p_value": test.p_value,
        }),
        None => {
            json!({ "name": name, "statistic": null, "note": "not estimable for this model" })
        }
    }
}

/// How ties are handled: as asked, or as is usual for the method.
pub(super) fn ties(asked: Option<TiesName>, usual: Ties) -> Ties {
    match asked {
        None => usual,
        Some(TiesName::Efron) => Ties::Efron,
        Some(TiesName::Breslow) => Ties::Breslow,
        Some(TiesName::Exact) => Ties::Exact,
    }
}

/// Name of a stratum; nothing without strata.
pub(super) fn stratum_name(rows: &FollowUp, stratum: u32) -> Option<&str> {
    rows.strata.as_ref().map(|strata| strata.name_of(stratum))
}

/// Rows to predict for, with their name: one of `--profile`, and all rows with a covariate fixed at each of its levels in turn.
pub(super) fn predicted(
    arguments: &EstimateArguments,
    rows: &FollowUp,
    covariates: &Covariates,
) -> Result<Vec<(String, Covariates)>, Failure> {
    let refuse = |error| rows.table.refusal(&error);
    let mut found = Vec::new();
    if !arguments.profile.is_empty() {
        let asked = arguments
            .profile
            .iter()
            .map(|part| Fixed::parse(part))
            .collect::<Result<Vec<Fixed>, Failure>>()?;
        for name in column_names(arguments) {
            if !asked.iter().any(|fixed| fixed.column == name) {
                return Err(Failure::with_hint(
                    format!("`--profile` says nothing of covariate `{name}`"),
                    "a profile has a value for every covariate: `--profile age=70,site=Quay`",
                ));
            }
        }
        let mut profile = covariates.clone();
        for fixed in &asked {
            profile = fixed_at(arguments, &rows.table, &profile, fixed)?;
        }
        // all rows are now alike, and one of them says it all
        let columns = profile.columns().iter().map(|column| {
            let mut column = column.clone();
            column.values.truncate(1);
            column
        });
        let one = Covariates::new(1, columns.collect()).map_err(refuse)?;
        found.push((arguments.profile.join(","), one));
    }
    if let Some(column) = &arguments.adjusted_by {
        for fixed in levels(arguments, &rows.table, column)? {
            let name = format!("{column}={}", fixed.value);
            found.push((name, fixed_at(arguments, &rows.table, covariates, &fixed)?));
        }
    }
    Ok(found)
}

/// Times of events with those asked for, increasing.
pub(super) fn with_times_asked(
    arguments: &EstimateArguments,
    of_events: impl Iterator<Item = f64>,
) -> Result<Vec<f64>, Failure> {
    let is_time = |time: &f64| *time >= 0.0 && time.is_finite();
    if !arguments.times.iter().all(is_time) {
        return Err(Failure::CannotRun(
            "`--times` must be finite times of 0 or more".to_owned(),
        ));
    }
    let mut times: Vec<f64> = of_events.chain(arguments.times.iter().copied()).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    Ok(times)
}
