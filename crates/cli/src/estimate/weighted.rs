//! Curves of two groups made alike by propensity weights.

use super::answer::{Answer, insert_into};
use super::arguments::{EstimateArguments, PopulationName, VarianceName};
use super::covariates::{column_names, covariates};
use super::curve_json::curve_json;
use super::follow_up::{FollowUp, curve_options, needed};
use super::labels::Labels;
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::regression::{
    BinaryOutcomes, Covariate, Covariates, LogisticFit, LogisticOptions, logistic,
};
use survival::weighting::{
    BootstrapOptions, CovariateKind, DrawnContrast, Population, PropensityModel, PropensityWeights,
    Target, WeightOptions, bootstrap_contrasts, propensity_weights, standardised_difference,
    weighted_contrast_of_model, weighted_curves,
};
use survival::{Sample, SurvivalError, Variance};

/// The second group in order is the treated one; its chance is modelled by the covariates.
pub(super) fn weighted_curve_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    needed("group", &arguments.group)?;
    let rows = FollowUp::read(arguments, &column_names(arguments))?;
    let refuse = |error: SurvivalError| rows.table.refusal(&error);
    let groups = two_groups(arguments, &rows)?;
    let fitted = Fitted::new(arguments, &rows, groups)?;
    let weights = propensity_weights(&fitted.is_treated, &fitted.model.fitted, &fitted.options)
        .map_err(refuse)?;
    let sample = rows.sample_of_event();

    let mut answer = Answer::new(arguments, rows.sample.len(), rows.table.n_left_out);
    answer.option("treated", groups.name_of(1));
    answer.option("population", fitted.options.population);
    answer.option("stabilised", fitted.options.is_stabilised);
    answer.option("event", rows.event_json().unwrap_or_else(|| json!("any")));
    add_curves(arguments, &rows, groups, &weights, &mut answer)?;
    let targets = targets(arguments);
    if let Some(draws) = arguments.draws {
        if targets.is_empty() {
            return Err(Failure::with_hint(
                "`--draws` draws contrasts, and none was asked for",
                "`--times` and `--until` name what is compared",
            ));
        }
        answer.option("draws", draws);
        answer.option("seed", arguments.seed);
        let drawn = fitted.drawn_contrasts(arguments, &sample, &targets, draws);
        answer.part("drawn_contrasts", json!(drawn.map_err(refuse)?));
        answer.note("drawn contrasts: people or clusters are drawn again and the model of the weights is fitted anew each time; limits are percentiles");
    }
    let contrasts = fitted.contrasts(arguments, &sample, &targets);
    answer.part("contrasts", json!(contrasts.map_err(refuse)?));
    let columns = fitted.covariates.columns().iter();
    let balance: Result<Vec<Value>, SurvivalError> = columns
        .map(|column| balance(column, &fitted.is_treated, &weights))
        .collect();
    answer.part("balance", json!(balance.map_err(refuse)?));
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
            "terms": fitted.model.terms,
            "log_likelihood": fitted.model.log_likelihood,
            "log_likelihood_null": fitted.model.log_likelihood_null,
        }),
    );
    answer.note("weights make the groups alike in these covariates only; limits of the curves take the weights as known, those of the contrasts do not");
    Ok(answer.finished())
}

/// The two groups, where everything else that the method needs was given too.
fn two_groups<'r>(
    arguments: &EstimateArguments,
    rows: &'r FollowUp,
) -> Result<&'r Labels, Failure> {
    let groups = rows.groups.as_ref();
    let Some(groups) = groups.filter(|groups| groups.names().len() == 2) else {
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
    Ok(groups)
}

/// Who was treated, the model of it, and how weights are made from the model.
struct Fitted {
    is_treated: Vec<bool>,
    covariates: Covariates,
    model: LogisticFit,
    options: WeightOptions,
}

impl Fitted {
    fn new(
        arguments: &EstimateArguments,
        rows: &FollowUp,
        groups: &Labels,
    ) -> Result<Self, Failure> {
        let refuse = |error: SurvivalError| rows.table.refusal(&error);
        let is_treated: Vec<bool> = groups.codes.iter().map(|&code| code == 1).collect();
        let covariates = covariates(arguments, &rows.table)?;
        let outcomes = BinaryOutcomes::new(is_treated.clone()).map_err(refuse)?;
        let model =
            logistic(&outcomes, &covariates, &LogisticOptions::default()).map_err(refuse)?;
        let options = WeightOptions {
            population: match arguments.population {
                PopulationName::Average => Population::Average,
                PopulationName::Treated => Population::Treated,
                PopulationName::Overlap => Population::Overlap,
            },
            is_stabilised: arguments.stabilised,
            truncation: None,
        };
        Ok(Self {
            is_treated,
            covariates,
            model,
            options,
        })
    }

    /// Each target with its contrast, or why it has none.
    fn contrasts(
        &self,
        arguments: &EstimateArguments,
        sample: &Sample,
        targets: &[Target],
    ) -> Result<Vec<Value>, SurvivalError> {
        let known = PropensityModel {
            covariates: &self.covariates,
            propensity: &self.model.fitted,
        };
        let contrast = |&target: &Target| {
            let found = weighted_contrast_of_model(
                sample,
                &self.is_treated,
                &known,
                &self.options,
                target,
                arguments.level,
            )?;
            Ok(found.map_or_else(
                || json!({ "target": target, "note": "not estimable: past the last observation of a group" }),
                |contrast| json!(contrast),
            ))
        };
        targets.iter().map(contrast).collect()
    }

    fn drawn_contrasts(
        &self,
        arguments: &EstimateArguments,
        sample: &Sample,
        targets: &[Target],
        n_repetitions: usize,
    ) -> Result<Vec<DrawnContrast>, SurvivalError> {
        let bootstrap = BootstrapOptions {
            n_repetitions,
            seed: arguments.seed,
            level: arguments.level,
            n_threads: None,
        };
        bootstrap_contrasts(
            sample,
            &self.is_treated,
            &self.covariates,
            &self.options,
            targets,
            &bootstrap,
        )
    }
}

/// What groups are compared by: the probability at each of `--times`, and the mean up to `--until`.
fn targets(arguments: &EstimateArguments) -> Vec<Target> {
    let times = arguments.times.iter();
    let until = arguments
        .until
        .map(|until| Target::RestrictedMean { until });
    times
        .map(|&time| Target::EventFree { time })
        .chain(until)
        .collect()
}

/// The weighted curve of each group, and the options they were made with.
fn add_curves(
    arguments: &EstimateArguments,
    rows: &FollowUp,
    groups: &Labels,
    weights: &PropensityWeights,
    answer: &mut Answer,
) -> Result<(), Failure> {
    let options = curve_options(arguments, Variance::Robust)?;
    answer.curve_options(&options);
    answer.option("variance", Variance::Robust);
    let curves = weighted_curves(
        &rows.sample_of_event(),
        &groups.codes,
        &weights.weights,
        arguments.level,
        options.limits,
    );
    for curve in curves.map_err(|error| rows.table.refusal(&error))? {
        let group = groups.name_of(curve.group);
        let mut value = curve_json(
            &curve.curve,
            Some(group),
            rows.event_json(),
            &arguments.times,
        )?;
        insert_into(&mut value, "size", curve.size);
        answer.curve(value);
    }
    Ok(())
}

/// How far the groups differ in a covariate, without and with the weights.
fn balance(
    column: &Covariate,
    is_treated: &[bool],
    weights: &PropensityWeights,
) -> Result<Value, SurvivalError> {
    let is_indicator = column
        .values
        .iter()
        .all(|&value| value == 0.0 || value == 1.0);
    let kind = if is_indicator {
        CovariateKind::Proportion
    } else {
        CovariateKind::Mean
    };
    let found = standardised_difference(&column.values, is_treated, &weights.weights, kind)?;
    Ok(json!({ "term": column.name, "balance": found }))
}
