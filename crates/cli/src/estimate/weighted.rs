//! Curves of two groups made alike by propensity weights.

use super::answer::{Answer, curve_json};
use super::arguments::{EstimateArguments, PopulationName, VarianceName};
use super::covariates::{column_names, covariates};
use super::follow_up::{FollowUp, curve_options, needed};
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::regression::{BinaryOutcomes, LogisticOptions, logistic};
use survival::weighting::{
    BootstrapOptions, CovariateKind, Population, PropensityModel, Target, WeightOptions,
    bootstrap_contrasts, propensity_weights, standardised_difference, weighted_contrast_of_model,
    weighted_curves,
};
use survival::{SurvivalError, Variance};

/// The second group in order is the treated one; its chance is modelled by the covariates.
pub(super) fn weighted_curve_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    needed("group", &arguments.group)?;
    let rows = FollowUp::read(arguments, &column_names(arguments))?;
    let refuse = |error: SurvivalError| rows.table.refusal(&error);
    let Some(groups) = rows
        .groups
        .as_ref()
        .filter(|groups| groups.names().len() == 2)
    else {
        return Err(Failure::Data("the method compares two groups".to_owned()));
    };
    if arguments
        .variance
        .is_some_and(|variance| variance != VarianceName::Robust)
    {
        return Err(Failure::with_hint(
            "curves with propensity weights have the robust variance only",
            "leave `--variance` out",
        ));
    }
    if arguments.covariates.is_empty() {
        return Err(Failure::CannotRun(
            "the method needs `--covariates`".to_owned(),
        ));
    }
    let is_treated: Vec<bool> = groups.codes.iter().map(|&code| code == 1).collect();
    let covariates = covariates(arguments, &rows.table)?;
    let outcomes = BinaryOutcomes::new(is_treated.clone()).map_err(refuse)?;
    let model = logistic(&outcomes, &covariates, &LogisticOptions::default()).map_err(refuse)?;
    let options = WeightOptions {
        population: match arguments.population {
            PopulationName::Average => Population::Average,
            PopulationName::Treated => Population::Treated,
            PopulationName::Overlap => Population::Overlap,
        },
        is_stabilised: arguments.stabilised,
        truncation: None,
    };
    let weights = propensity_weights(&is_treated, &model.fitted, &options).map_err(refuse)?;

    let mut answer = Answer::new(arguments, rows.sample.len(), rows.table.n_left_out);
    let curve_options = curve_options(arguments, Variance::Robust)?;
    answer.curve_options(&curve_options);
    answer.option("variance", Variance::Robust);
    answer.option("treated", groups.name_of(1));
    answer.option("population", options.population);
    answer.option("stabilised", options.is_stabilised);
    answer.option("event", rows.event_json().unwrap_or_else(|| json!("any")));
    let sample = rows.sample_of_event();
    let curves = weighted_curves(
        &sample,
        &groups.codes,
        &weights.weights,
        arguments.level,
        curve_options.limits,
    );
    for curve in curves.map_err(refuse)? {
        let group = groups.name_of(curve.group);
        let mut value = curve_json(
            &curve.curve,
            Some(group),
            rows.event_json(),
            &arguments.times,
        )?;
        if let Some(object) = value.as_object_mut() {
            object.insert("size".to_owned(), json!(curve.size));
        }
        answer.curve(value);
    }
    let times = arguments
        .times
        .iter()
        .map(|&time| Target::EventFree { time });
    let until = arguments
        .until
        .map(|until| Target::RestrictedMean { until });
    let targets: Vec<Target> = times.chain(until).collect();
    let mut contrasts = Vec::new();
    let known = PropensityModel {
        covariates: &covariates,
        propensity: &model.fitted,
    };
    for &target in &targets {
        let found = weighted_contrast_of_model(
            &sample,
            &is_treated,
            &known,
            &options,
            target,
            arguments.level,
        );
        match found.map_err(refuse)? {
            Some(contrast) => contrasts.push(json!(contrast)),
            None => contrasts.push(json!({ "target": target, "note": "not estimable: past the last observation of a group" })),
        }
    }
    if let Some(draws) = arguments.draws {
        if targets.is_empty() {
            return Err(Failure::with_hint(
                "`--draws` draws contrasts, and none was asked for",
                "`--times` and `--until` name what is compared",
            ));
        }
        answer.option("draws", draws);
        answer.option("seed", arguments.seed);
        let bootstrap = BootstrapOptions {
            n_repetitions: draws,
            seed: arguments.seed,
            level: arguments.level,
            n_threads: None,
        };
        let drawn = bootstrap_contrasts(
            &sample,
            &is_treated,
            &covariates,
            &options,
            &targets,
            &bootstrap,
        );
        answer.part("drawn_contrasts", json!(drawn.map_err(refuse)?));
        answer.note("drawn contrasts: people or clusters are drawn again and the model of the weights is fitted anew each time; limits are percentiles");
    }
    answer.part("contrasts", json!(contrasts));
    let balance: Vec<Value> = covariates
        .columns()
        .iter()
        .map(|column| {
            let is_share = column
                .values
                .iter()
                .all(|&value| value == 0.0 || value == 1.0);
            let kind = if is_share {
                CovariateKind::Proportion
            } else {
                CovariateKind::Mean
            };
            let found =
                standardised_difference(&column.values, &is_treated, &weights.weights, kind);
            found
                .map(|found| json!({ "term": column.name, "balance": found }))
                .map_err(refuse)
        })
        .collect::<Result<_, _>>()?;
    answer.part("balance", json!(balance));
    answer.part(
        "weights",
        json!({
            "smallest": weights.smallest,
            "mean": weights.mean,
            "largest": weights.largest,
            "size_treated": weights.size_treated,
            "size_untreated": weights.size_untreated,
        }),
    );
    answer.part(
        "model",
        json!({
            "terms": model.terms,
            "log_likelihood": model.log_likelihood,
            "log_likelihood_null": model.log_likelihood_null,
        }),
    );
    answer.note("weights make the groups alike in these covariates only; limits of the curves take the weights as known, those of the contrasts do not");
    Ok(answer.finished())
}
