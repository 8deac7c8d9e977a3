//! Regressions, and the distribution of times known only to lie in intervals.

use super::answer::Answer;
use super::arguments::{DistributionName, EstimateArguments, TiesName};
use super::covariates::{column_names, covariates};
use super::cox::{NOTHING_FINITE, predicted, stratum_name, with_times_asked};
use super::follow_up::{FollowUp, has_event, needed, table_of};
use super::labels::{Labels, identities};
use super::table::Table;
use crate::failure::Failure;
use serde::Serialize;
use serde_json::{Map, Value, json};
use survival::interval::{
    Distribution, IntervalRegressionOptions, IntervalSample, interval_regression, npmle,
};
use survival::regression::cox::Ties;
use survival::regression::fine_gray::{FineGrayFit, FineGrayOptions, fine_gray};
use survival::regression::{
    BinaryOutcomes, Covariates, LogisticOptions, ModelTest, Penalty, c_statistic, calibration,
    logistic,
};

pub(super) fn fine_gray_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let rows = FollowUp::read(arguments, &column_names(arguments))?;
    let cause = rows.event.or_else(|| {
        rows.causes
            .all()
            .first()
            .copied()
            .filter(|_| rows.causes.all().len() == 1)
    });
    let Some(cause) = cause else {
        return Err(Failure::with_hint(
            "the method needs `--event`",
            "name the cause of interest; the others compete with it",
        ));
    };
    let covariates = covariates(arguments, &rows.table)?;
    let options = FineGrayOptions {
        cause,
        ties: ties(arguments.ties, Ties::Breslow),
        level: arguments.level,
        ..FineGrayOptions::default()
    };
    let strata = rows.strata.as_ref().map(|strata| strata.codes.as_slice());
    let refuse = |error| rows.table.refusal(&error);
    let fit = fine_gray(&rows.sample, &covariates, strata, &options).map_err(refuse)?;
    let mut answer = begun(arguments, &rows);
    answer.option("ties", options.ties);
    answer.option("censoring_order", options.censoring_order);
    answer.option("weight_variance", fit.options.weight_variance);
    let mut model = model(&fit.terms, fit.log_likelihood, fit.log_likelihood_null);
    name_errors(&mut model, true);
    insert(&mut model, "n_events", fit.n_events);
    insert(&mut model, "n_competing", fit.n_competing);
    insert(
        &mut model,
        "covariance_weights_known",
        &fit.covariance_weights_known,
    );
    insert(
        &mut model,
        "covariance_weights_estimated",
        &fit.covariance_weights_estimated,
    );
    answer.part("model", Value::Object(model));
    answer.part("tests", json!([test("wald", fit.wald_test.as_ref())]));
    let has_curve = !arguments.profile.is_empty() && fit.has_finite_estimates();
    if !arguments.profile.is_empty() {
        answer.option("profile", &arguments.profile);
    }
    if has_curve {
        answer.option("limits", "log of the cumulative sub-distribution hazard");
        answer.note("the standard errors of a predicted incidence take the steps of the baseline as Poisson counts, weights and clusters left aside there");
    }
    let predicted = predicted(arguments, &rows, &covariates)?;
    for (group, profile) in predicted.iter().filter(|_| has_curve) {
        for curve in incidences(arguments, &fit, &rows, group, profile)? {
            answer.curve(curve);
        }
    }
    if !predicted.is_empty() && !has_curve {
        answer.note(NOTHING_FINITE);
    }
    if arguments.weight.is_some() {
        answer.note("case weights count in the estimate of the censoring distribution too, so that a row of weight 2 is that row twice");
    }
    for note in &fit.notes {
        answer.note(note);
    }
    Ok(answer.finished())
}

/// The predicted incidence of each stratum, at the event times and those asked for.
fn incidences(
    arguments: &EstimateArguments,
    fit: &FineGrayFit,
    rows: &FollowUp,
    group: &str,
    profile: &Covariates,
) -> Result<Vec<Value>, Failure> {
    let refuse = |error| rows.table.refusal(&error);
    let steps = fit.baseline().map_err(refuse)?;
    let profile = profile.row(0).unwrap_or_default();
    steps
        .chunk_by(|left, right| left.stratum == right.stratum)
        .filter_map(|steps| steps.first().map(|first| (first.stratum, steps)))
        .map(|(stratum, steps)| {
            let times = with_times_asked(arguments, steps.iter().map(|step| step.time))?;
            let points = fit.incidence(&profile, stratum, &times).map_err(refuse)?;
            let mut object = Map::new();
            insert(&mut object, "group", group);
            if let Some(stratum) = stratum_name(rows, stratum) {
                insert(&mut object, "stratum", stratum);
            }
            insert(&mut object, "cause", rows.event_json());
            insert(&mut object, "quantity", "incidence");
            insert(&mut object, "level", arguments.level);
            insert(
                &mut object,
                "limits",
                "log of the cumulative sub-distribution hazard",
            );
            insert(
                &mut object,
                "variance",
                "poisson steps of the baseline, and coefficients",
            );
            insert(&mut object, "points", points);
            Ok(Value::Object(object))
        })
        .collect()
}

pub(super) fn logistic_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let cause = needed("cause", &arguments.cause)?;
    let extra: Vec<Option<String>> = column_names(arguments).into_iter().map(Some).collect();
    let mut columns = vec![&arguments.cluster, &arguments.weight, &arguments.cause];
    columns.extend(&extra);
    let table = table_of(arguments, &columns, &[])?;
    let refuse = |error| table.refusal(&error);
    let outcomes = has_event(arguments, &table, cause)?;
    let mut outcomes = BinaryOutcomes::new(outcomes).map_err(refuse)?;
    if let Some(weight) = &arguments.weight {
        outcomes = outcomes
            .with_weight(table.numbers(weight, f64::NAN)?)
            .map_err(refuse)?;
    }
    if let Some(cluster) = &arguments.cluster {
        let cluster = identities(&table.text(cluster));
        outcomes = outcomes.with_cluster(cluster).map_err(refuse)?;
    }
    let options = LogisticOptions {
        penalty: if arguments.firth {
            Penalty::Firth
        } else {
            Penalty::None
        },
        level: arguments.level,
    };
    let fit = logistic(&outcomes, &covariates(arguments, &table)?, &options).map_err(refuse)?;
    let mut answer = Answer::new(arguments, table.n_rows(), table.n_left_out);
    answer.option("level", options.level);
    answer.option("penalty", options.penalty);
    answer.option("event", arguments.event.as_deref().unwrap_or("any"));
    let mut model = model(&fit.terms, fit.log_likelihood, fit.log_likelihood_null);
    name_errors(&mut model, fit.robust_covariance.is_some());
    insert(&mut model, "n_events", fit.n_events);
    insert(&mut model, "covariance", &fit.covariance);
    insert(&mut model, "robust_covariance", &fit.robust_covariance);
    if let Some(concordance) = c_statistic(&outcomes, &fit.fitted).map_err(refuse)? {
        insert(&mut model, "concordance", concordance.estimate);
        insert(&mut model, "concordance_std_error", concordance.std_error);
    }
    if let Ok(calibration) = calibration(&outcomes, &fit.fitted, arguments.level) {
        insert(&mut model, "calibration", calibration);
    }
    answer.part("model", Value::Object(model));
    answer.part(
        "tests",
        json!([test("likelihood-ratio", fit.likelihood_ratio_test.as_ref())]),
    );
    for note in &fit.notes {
        answer.note(note);
    }
    Ok(answer.finished())
}

pub(super) fn npmle_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let (table, sample, groups) = intervals(arguments, &[])?;
    let mut answer = Answer::new(arguments, table.n_rows(), table.n_left_out);
    let mut masses = Vec::new();
    let mut curves = Vec::new();
    let parts = match &groups {
        None => vec![None],
        Some(groups) => groups.all().into_iter().map(Some).collect(),
    };
    for group in parts {
        let is_in = |row: usize| {
            group.is_none_or(|group| {
                groups.as_ref().and_then(|groups| groups.codes.get(row)) == Some(&group)
            })
        };
        let part = sample.part(is_in)?;
        let built = part.build().map_err(|error| table.refusal(&error))?;
        let found = npmle(&built).map_err(|error| table.refusal(&error))?;
        let name = group.and_then(|group| groups.as_ref().map(|groups| groups.name_of(group)));
        masses.extend(found.masses.iter().map(|mass| {
            let mut value = json!({
                "lower": mass.lower,
                "upper": mass.upper,
                "probability": mass.probability,
            });
            if let (Some(name), Some(object)) = (name, value.as_object_mut()) {
                object.insert("group".to_owned(), json!(name));
            }
            value
        }));
        let at_times: Vec<Value> = arguments
            .times
            .iter()
            .map(|&time| json!(found.at(time)))
            .collect();
        let mut curve = json!({
            "n": found.n,
            "log_likelihood": found.log_likelihood,
            "largest_excess": found.largest_excess,
            "event_free": at_times,
        });
        if let (Some(name), Some(object)) = (name, curve.as_object_mut()) {
            object.insert("group".to_owned(), json!(name));
        }
        curves.push(curve);
        if group.is_none() {
            answer.part("log_likelihood", json!(found.log_likelihood));
        }
        for note in &found.notes {
            answer.note(note);
        }
    }
    answer.option("times", &arguments.times);
    answer.part("masses", json!(masses));
    answer.part("fits", json!(curves));
    Ok(answer.finished())
}

pub(super) fn interval_regression_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let (table, sample, _) = intervals(arguments, &column_names(arguments))?;
    let covariates = covariates(arguments, &table)?;
    let options = IntervalRegressionOptions {
        distribution: match arguments.distribution {
            DistributionName::Weibull => Distribution::Weibull,
            DistributionName::LogNormal => Distribution::LogNormal,
            DistributionName::Exponential => Distribution::Exponential,
        },
        level: arguments.level,
    };
    let refuse = |error| table.refusal(&error);
    let built = sample.build().map_err(refuse)?;
    let fit = interval_regression(&built, &covariates, &options).map_err(refuse)?;
    let mut answer = Answer::new(arguments, table.n_rows(), table.n_left_out);
    answer.option("distribution", options.distribution);
    answer.option("level", options.level);
    let mut model = model(&fit.terms, fit.log_likelihood, fit.log_likelihood_null);
    name_errors(&mut model, fit.robust_covariance.is_some());
    insert(&mut model, "scale", fit.scale);
    insert(&mut model, "covariance", &fit.covariance);
    insert(&mut model, "robust_covariance", &fit.robust_covariance);
    answer.part("model", Value::Object(model));
    answer.part(
        "tests",
        json!([test("likelihood-ratio", Some(&fit.likelihood_ratio_test))]),
    );
    for note in &fit.notes {
        answer.note(note);
    }
    Ok(answer.finished())
}

pub(super) fn begun(arguments: &EstimateArguments, rows: &FollowUp) -> Answer {
    let mut answer = Answer::new(arguments, rows.sample.len(), rows.table.n_left_out);
    answer.option("level", arguments.level);
    answer.option("event", rows.event_json().unwrap_or_else(|| json!("any")));
    answer
}

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

pub(super) fn insert(object: &mut Map<String, Value>, name: &str, value: impl Serialize) {
    object.insert(name.to_owned(), json!(value));
}

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

pub(super) fn ties(asked: Option<TiesName>, usual: Ties) -> Ties {
    match asked {
        None => usual,
        Some(TiesName::Efron) => Ties::Efron,
        Some(TiesName::Breslow) => Ties::Breslow,
        Some(TiesName::Exact) => Ties::Exact,
    }
}

/// Interval columns before they are checked as a sample.
struct Intervals {
    lower: Vec<f64>,
    upper: Vec<f64>,
    weight: Option<Vec<f64>>,
    cluster: Option<Vec<u32>>,
}

impl Intervals {
    fn part(&self, is_in: impl Fn(usize) -> bool) -> Result<Intervals, Failure> {
        fn kept<T: Copy>(column: &[T], is_in: &impl Fn(usize) -> bool) -> Vec<T> {
            let rows = column.iter().enumerate();
            rows.filter(|&(row, _)| is_in(row))
                .map(|(_, &value)| value)
                .collect()
        }
        Ok(Intervals {
            lower: kept(&self.lower, &is_in),
            upper: kept(&self.upper, &is_in),
            weight: self.weight.as_ref().map(|column| kept(column, &is_in)),
            cluster: self.cluster.as_ref().map(|column| kept(column, &is_in)),
        })
    }

    fn build(&self) -> Result<IntervalSample, survival::SurvivalError> {
        let mut sample = IntervalSample::new(self.lower.clone(), self.upper.clone())?;
        if let Some(weight) = &self.weight {
            sample = sample.with_weight(weight.clone())?;
        }
        if let Some(cluster) = &self.cluster {
            sample = sample.with_cluster(cluster.clone())?;
        }
        Ok(sample)
    }
}

fn intervals(
    arguments: &EstimateArguments,
    covariates: &[String],
) -> Result<(Table, Intervals, Option<Labels>), Failure> {
    let lower = needed("lower", &arguments.lower)?;
    let upper = needed("upper", &arguments.upper)?;
    let extra: Vec<Option<String>> = covariates.iter().cloned().map(Some).collect();
    let mut columns = vec![&arguments.group, &arguments.weight, &arguments.cluster];
    columns.extend(&extra);
    let table = table_of(arguments, &columns, &[&arguments.lower, &arguments.upper])?;
    let intervals = Intervals {
        lower: table.numbers(lower, 0.0)?,
        upper: table.numbers(upper, f64::INFINITY)?,
        weight: arguments
            .weight
            .as_ref()
            .map(|column| table.numbers(column, f64::NAN))
            .transpose()?,
        cluster: arguments
            .cluster
            .as_ref()
            .map(|column| identities(&table.text(column))),
    };
    let groups = Labels::of_column(&table, &arguments.group)?;
    Ok((table, intervals, groups))
}
