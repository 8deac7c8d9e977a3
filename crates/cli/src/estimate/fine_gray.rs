//! Sub-distribution hazards of one cause among several, and the incidence they predict.

use super::answer::insert;
use super::arguments::EstimateArguments;
use super::covariates::{column_names, covariates};
use super::fit::{
    NOTHING_FINITE, begun, model, name_errors, predicted, stratum_name, test, ties,
    with_times_asked,
};
use super::follow_up::FollowUp;
use crate::failure::Failure;
use serde_json::{Map, Value, json};
use survival::regression::Covariates;
use survival::regression::cox::Ties;
use survival::regression::fine_gray::{FineGrayFit, FineGrayOptions, fine_gray};

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
