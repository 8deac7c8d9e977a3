//! Times known only to lie in intervals: their distribution, and regression on it.

use super::answer::{Answer, insert, insert_into};
use super::arguments::{DistributionName, EstimateArguments};
use super::covariates::{column_names, covariates};
use super::fit::{model, name_errors, test};
use super::follow_up::{needed, table_of};
use super::labels::{Labels, identities};
use super::table::Table;
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::interval::{
    Distribution, IntervalRegressionOptions, IntervalSample, interval_regression, npmle,
};

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
        let part = sample.part(is_in);
        let built = part.build().map_err(|error| table.refusal(&error))?;
        let found = npmle(&built).map_err(|error| table.refusal(&error))?;
        let name = group.and_then(|group| groups.as_ref().map(|groups| groups.name_of(group)));
        masses.extend(found.masses.iter().map(|mass| {
            let mut value = json!({
                "lower": mass.lower,
                "upper": mass.upper,
                "probability": mass.probability,
            });
            if let Some(name) = name {
                insert_into(&mut value, "group", name);
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
        if let Some(name) = name {
            insert_into(&mut curve, "group", name);
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

/// Interval columns before they are checked as a sample.
struct Intervals {
    lower: Vec<f64>,
    upper: Vec<f64>,
    weight: Option<Vec<f64>>,
    cluster: Option<Vec<u32>>,
}

impl Intervals {
    /// The rows that `is_in` names by their place from 0.
    fn part(&self, is_in: impl Fn(usize) -> bool) -> Intervals {
        fn kept<T: Copy>(column: &[T], is_in: &impl Fn(usize) -> bool) -> Vec<T> {
            let rows = column.iter().enumerate();
            rows.filter(|&(row, _)| is_in(row))
                .map(|(_, &value)| value)
                .collect()
        }
        Intervals {
            lower: kept(&self.lower, &is_in),
            upper: kept(&self.upper, &is_in),
            weight: self.weight.as_ref().map(|column| kept(column, &is_in)),
            cluster: self.cluster.as_ref().map(|column| kept(column, &is_in)),
        }
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

/// Reads the interval columns with those of `covariates`, and the groups where they are asked for.
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
