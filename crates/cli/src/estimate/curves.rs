//! Curves of one row a follow-up: Kaplan-Meier, Nelson-Aalen, restricted mean, cumulative incidence; and the log-rank family.

use super::answer::{Answer, insert_into};
use super::arguments::{EstimateArguments, VarianceName};
use super::curve_json::{curve_json, insert_mean};
use super::follow_up::{FollowUp, curve_options, needed};
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::weighting::BootstrapOptions;
use survival::{
    CurveOptions, GrayOptions, LogRankOptions, LogRankVariance, Sample, SurvivalError, Variance,
    Weighting, aalen_johansen, bootstrap_quantile, gray_test, kaplan_meier, log_rank, nelson_aalen,
    restricted_mean, restricted_means,
};

pub(super) fn kaplan_meier_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let rows = FollowUp::read(arguments, &[])?;
    let options = curve_options(arguments, Variance::Greenwood)?;
    let mut answer = begun(arguments, &rows, &options);
    if let Some(draws) = arguments.draws {
        answer.option("draws", draws);
        answer.option("seed", arguments.seed);
    }
    for (group, sample) in rows.by_group(&rows.sample_of_event())? {
        let curve = kaplan_meier(&sample, &options).map_err(|error| rows.table.refusal(&error))?;
        let mut value = curve_json(
            &curve,
            group.as_deref(),
            rows.event_json(),
            &arguments.times,
        )?;
        if let Some(draws) = arguments.draws {
            insert_draws(&mut value, &sample, draws, arguments)
                .map_err(|error| rows.table.refusal(&error))?;
        }
        if let Some(until) = arguments.until {
            let mean = restricted_mean(&sample, until, &options);
            let mean = mean.map_err(|error| rows.table.refusal(&error))?;
            insert_mean(&mut value, (&mean).into(), options.variance);
        }
        answer.curve(value);
    }
    Ok(answer.finished())
}

/// Bootstrap limits beside those of each quantile.
fn insert_draws(
    value: &mut Value,
    sample: &Sample,
    n_repetitions: usize,
    arguments: &EstimateArguments,
) -> Result<(), SurvivalError> {
    let options = BootstrapOptions {
        n_repetitions,
        seed: arguments.seed,
        level: arguments.level,
        n_threads: None,
    };
    let quantiles = value.get_mut("quantiles").and_then(Value::as_array_mut);
    for quantile in quantiles.into_iter().flatten() {
        let Some(probability) = quantile.get("probability").and_then(Value::as_f64) else {
            continue;
        };
        let drawn = bootstrap_quantile(sample, probability, &options)?;
        insert_into(quantile, "bootstrap_std_error", drawn.std_error);
        insert_into(quantile, "bootstrap_lower", drawn.lower);
        insert_into(quantile, "bootstrap_upper", drawn.upper);
        insert_into(quantile, "draws_not_reached", drawn.n_not_reached);
    }
    Ok(())
}

pub(super) fn nelson_aalen_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let rows = FollowUp::read(arguments, &[])?;
    let options = curve_options(arguments, Variance::Aalen)?;
    let mut answer = begun(arguments, &rows, &options);
    for (group, sample) in rows.by_group(&rows.sample_of_event())? {
        let curve = nelson_aalen(&sample, &options).map_err(|error| rows.table.refusal(&error))?;
        answer.curve(curve_json(
            &curve,
            group.as_deref(),
            rows.event_json(),
            &arguments.times,
        )?);
    }
    Ok(answer.finished())
}

pub(super) fn restricted_mean_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let rows = FollowUp::read(arguments, &[])?;
    let options = curve_options(arguments, Variance::Greenwood)?;
    let sample = rows.sample_of_event();
    let parts = rows.by_group(&sample)?;
    let last_time = |sample: &Sample| sample.exit().iter().copied().fold(0.0, f64::max);
    let shared = parts
        .iter()
        .map(|(_, part)| last_time(part))
        .fold(f64::INFINITY, f64::min);
    let until = arguments.until.unwrap_or(shared);
    let refuse = |error: SurvivalError| rows.table.refusal(&error);

    let mut answer = begun(arguments, &rows, &options);
    answer.option("until", until);
    answer.option("limits", "linear");
    for (group, part) in &parts {
        let mean = restricted_mean(part, until, &options).map_err(refuse)?;
        let mut value = json!({ "n": mean.n });
        if let Some(group) = group {
            insert_into(&mut value, "group", group);
        }
        if let Some(event) = rows.event_json() {
            insert_into(&mut value, "cause", event);
        }
        insert_mean(&mut value, (&mean).into(), options.variance);
        answer.curve(value);
    }
    if let Some(groups) = rows.groups.as_ref().filter(|_| parts.len() > 1) {
        let found = restricted_means(&sample, &groups.codes, until, &options).map_err(refuse)?;
        let differences: Vec<Value> = found
            .differences
            .iter()
            .map(|difference| {
                json!({
                    "group": groups.name_of(difference.group),
                    "reference": groups.name_of(difference.reference),
                    "estimate": difference.estimate,
                    "std_error": difference.std_error,
                    "lower": difference.lower,
                    "upper": difference.upper,
                    "p_value": difference.p_value,
                    "limits": "linear",
                    "variance": options.variance,
                })
            })
            .collect();
        answer.part("differences", json!(differences));
    }
    Ok(answer.finished())
}

pub(super) fn incidence_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let rows = FollowUp::read(arguments, &[])?;
    let options = curve_options(arguments, Variance::Robust)?;
    let mut answer = begun(arguments, &rows, &options);
    for (group, sample) in rows.by_group(&rows.sample)? {
        let found =
            aalen_johansen(&sample, &options).map_err(|error| rows.table.refusal(&error))?;
        for curve in &found.causes {
            let Some(cause) = curve
                .cause
                .filter(|&cause| rows.event.is_none_or(|event| event == cause))
            else {
                continue;
            };
            let cause = Some(rows.causes.json_of(cause));
            answer.curve(curve_json(
                curve,
                group.as_deref(),
                cause,
                &arguments.times,
            )?);
        }
        let mut event_free =
            curve_json(&found.event_free, group.as_deref(), None, &arguments.times)?;
        insert_into(&mut event_free, "cause", Value::Null);
        answer.curve(event_free);
    }
    add_gray_tests(arguments, &rows, &mut answer)?;
    Ok(answer.finished())
}

/// Gray's test of each cause, where there are groups to compare.
fn add_gray_tests(
    arguments: &EstimateArguments,
    rows: &FollowUp,
    answer: &mut Answer,
) -> Result<(), Failure> {
    let groups = rows.groups.as_ref();
    let Some(groups) = groups.filter(|groups| groups.names().len() > 1) else {
        return Ok(());
    };
    let strata = rows.strata.as_ref().map(|strata| strata.codes.as_slice());
    let options = GrayOptions::default();
    let mut is_refused = false;
    let is_wanted = |cause: &u32| rows.event.is_none_or(|event| event == *cause);
    for cause in rows.causes.all().into_iter().filter(is_wanted) {
        match gray_test(&rows.sample, cause, &groups.codes, strata, &options) {
            Ok(test) => answer.test("gray", Some(rows.causes.json_of(cause)), &test),
            Err(SurvivalError::NotDefined { .. }) => is_refused = true,
            Err(error) => return Err(rows.table.refusal(&error)),
        }
    }
    if is_refused {
        answer.note(
            "Gray's test is made for rows that enter at the origin and was left out; fine-gray with `--entry` and the group \
             among `--covariates` compares incidences under delayed entry",
        );
        return Ok(());
    }
    answer.option("gray_power", 0.0);
    if arguments.cluster.is_some() {
        answer.note("Gray's test does not honour clusters");
    }
    Ok(())
}

pub(super) fn log_rank_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    needed("group", &arguments.group)?;
    let rows = FollowUp::read(arguments, &[])?;
    let weighting = weighting(&arguments.family)?;
    let variance = log_rank_variance(arguments)?;
    let Some(groups) = &rows.groups else {
        return Err(Failure::CannotRun("the method needs `--group`".to_owned()));
    };
    let n_groups = groups.names().len();
    let options = LogRankOptions {
        weighting,
        variance,
        trend_scores: if arguments.scores.is_empty() {
            (n_groups > 2).then(|| (1..=n_groups).map(|score| score as f64).collect())
        } else {
            Some(arguments.scores.clone())
        },
    };
    let strata = rows.strata.as_ref().map(|strata| strata.codes.as_slice());
    let found = log_rank(&rows.sample_of_event(), &groups.codes, strata, &options)
        .map_err(|error| rows.table.refusal(&error))?;

    let mut answer = Answer::new(arguments, rows.sample.len(), rows.table.n_left_out);
    answer.option("family", &arguments.family);
    answer.option("variance", variance);
    answer.option("event", rows.event_json().unwrap_or_else(|| json!("any")));
    answer.test(&arguments.family, rows.event_json(), &found.test);
    if let Some(trend) = &found.trend {
        answer.option("trend_scores", &options.trend_scores);
        answer.test(
            &format!("{} trend", arguments.family),
            rows.event_json(),
            trend,
        );
    }
    let counts: Vec<Value> = found
        .groups
        .iter()
        .zip(&found.score)
        .map(|(count, score)| {
            json!({
                "group": groups.name_of(count.group),
                "n": count.n,
                "observed": count.observed,
                "expected": count.expected,
                "score": score,
            })
        })
        .collect();
    answer.part("groups", json!(counts));
    answer.part("covariance", json!(found.covariance));
    Ok(answer.finished())
}

/// The variance asked for; without a word the robust one where rows are clustered or weighted.
fn log_rank_variance(arguments: &EstimateArguments) -> Result<LogRankVariance, Failure> {
    match arguments.variance {
        Some(VarianceName::Robust) => Ok(LogRankVariance::Robust),
        Some(VarianceName::Hypergeometric) => Ok(LogRankVariance::Hypergeometric),
        Some(VarianceName::Greenwood | VarianceName::Aalen) => Err(Failure::with_hint(
            "this variance belongs to curves",
            "log-rank takes hypergeometric or robust",
        )),
        None if arguments.cluster.is_some() || arguments.weight.is_some() => {
            Ok(LogRankVariance::Robust)
        }
        None => Ok(LogRankVariance::Hypergeometric),
    }
}

fn begun(arguments: &EstimateArguments, rows: &FollowUp, options: &CurveOptions) -> Answer {
    let mut answer = Answer::new(arguments, rows.sample.len(), rows.table.n_left_out);
    answer.curve_options(options);
    answer.option("event", rows.event_json().unwrap_or_else(|| json!("any")));
    answer.option("times", &arguments.times);
    if let Some(until) = arguments.until {
        answer.option("until", until);
    }
    answer
}

/// The member of the log-rank family that `--family` names.
fn weighting(family: &str) -> Result<Weighting, Failure> {
    let unknown = || {
        Failure::with_hint(
            "`--family` is not known",
            "log-rank, gehan-breslow, tarone-ware, peto-peto, peto-peto-modified or fleming-harrington:P:Q, for example fleming-harrington:1:0",
        )
    };
    match family {
        "log-rank" => Ok(Weighting::LogRank),
        "gehan-breslow" => Ok(Weighting::GehanBreslow),
        "tarone-ware" => Ok(Weighting::TaroneWare),
        "peto-peto" => Ok(Weighting::PetoPeto),
        "peto-peto-modified" => Ok(Weighting::PetoPetoModified),
        _ => {
            let powers = family
                .strip_prefix("fleming-harrington:")
                .ok_or_else(unknown)?;
            let (p, q) = powers.split_once(':').ok_or_else(unknown)?;
            let number = |text: &str| text.parse().map_err(|_| unknown());
            Ok(Weighting::FlemingHarrington {
                p: number(p)?,
                q: number(q)?,
            })
        }
    }
}
