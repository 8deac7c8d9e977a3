//! Outcomes in the order of time: control charts and cumulative sums.

use super::answer::Answer;
use super::arguments::{ChartName, EstimateArguments};
use super::follow_up::{has_event, needed, table_of};
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::SurvivalError;
use survival::counts::chart::{
    ChartOptions, ControlChart, MovingRangeRule, RuleSet, Variation, cases_between_chart,
    count_chart, individuals_chart, proportion_chart, rate_chart, signals, time_between_chart,
};
use survival::counts::{
    AfterSignal, CumulativeSumOptions, LimitSearch, RunLengthSimulation, limit_for_run_length,
    risk_adjusted_cumulative_sum, simulated_run_length,
};

pub(super) fn control_chart_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let kind = arguments.chart.ok_or_else(|| {
        Failure::with_hint(
            "the method needs `--chart`",
            "for example `--chart proportion`",
        )
    })?;
    let values_column = needed("events", &arguments.events)?;
    let needs_size = matches!(
        kind,
        ChartName::Proportion | ChartName::ProportionLaney | ChartName::Rate | ChartName::RateLaney
    );
    if needs_size {
        needed("denominator", &arguments.denominator)?;
    }
    let table = table_of(arguments, &[&arguments.events, &arguments.denominator], &[])?;
    let size_column = arguments.denominator.as_deref().unwrap_or(values_column);
    let options = |variation| ChartOptions {
        n_baseline: None,
        variation,
    };
    let refuse = |error: SurvivalError| table.refusal(&error);
    let events = || table.counts(values_column);
    let numbers = || table.numbers(values_column, f64::NAN);
    let people = || table.counts(size_column);
    let exposure = || table.numbers(size_column, f64::NAN);
    let mut ranges = None;
    let chart: ControlChart = match kind {
        ChartName::Individuals => {
            let (chart, moving_ranges) = of_individuals(&numbers()?).map_err(refuse)?;
            ranges = Some(moving_ranges);
            chart
        }
        ChartName::Proportion => {
            proportion_chart(&events()?, &people()?, &options(Variation::Chance)).map_err(refuse)?
        }
        ChartName::ProportionLaney => {
            proportion_chart(&events()?, &people()?, &options(Variation::Laney)).map_err(refuse)?
        }
        ChartName::Rate => {
            rate_chart(&events()?, &exposure()?, &options(Variation::Chance)).map_err(refuse)?
        }
        ChartName::RateLaney => {
            rate_chart(&events()?, &exposure()?, &options(Variation::Laney)).map_err(refuse)?
        }
        ChartName::Count => count_chart(&events()?, None).map_err(refuse)?,
        ChartName::CasesBetween => cases_between_chart(&events()?, None).map_err(refuse)?,
        ChartName::TimeBetween => time_between_chart(&numbers()?, None).map_err(refuse)?,
    };
    let rules = RuleSet::default();
    let mut answer = Answer::of_table(arguments, &table);
    answer.option("chart", chart.kind);
    answer.option("rules", rules);
    answer.part("outside", json!(chart.outside()));
    answer.part("signals", json!(signals(&chart, &rules)));
    answer.part("chart", json!(chart));
    if let Some(ranges) = ranges {
        answer.part("moving_ranges", ranges);
    }
    Ok(answer.finished())
}

/// The chart of single measurements, and their moving ranges with the limits that other rules would give.
fn of_individuals(values: &[f64]) -> Result<(ControlChart, Value), SurvivalError> {
    let by = |rule| individuals_chart(values, None, rule);
    let found = by(MovingRangeRule::Mean)?;
    let mut other_limits = Vec::new();
    for rule in [
        MovingRangeRule::MeanOverD2,
        MovingRangeRule::Median,
        MovingRangeRule::Screened,
    ] {
        let point = by(rule)?.chart.points.first().copied();
        other_limits.push(json!({
            "rule": rule,
            "lower": point.and_then(|point| point.lower),
            "upper": point.and_then(|point| point.upper),
        }));
    }
    let ranges = json!({
        "values": found.moving_ranges,
        "mean": found.mean_moving_range,
        "median": found.median_moving_range,
        "mean_within_limit": found.screened_mean_moving_range,
        "upper": found.moving_range_upper,
        "other_limits": other_limits,
    });
    Ok((found.chart, ranges))
}

/// Sums simulated to find a limit: the run length is then known to about 1 part in 60.
const USUAL_SIMULATIONS: usize = 4000;

/// A simulated sum is stopped after so many people.
const LONGEST_RUN: usize = 1_000_000;

pub(super) fn cumulative_sum_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let cause = needed("cause", &arguments.cause)?;
    let chance = needed("expected", &arguments.expected)?;
    let table = table_of(arguments, &[&arguments.expected], &[&arguments.cause])?;
    let has_event = has_event(arguments, &table, cause)?;
    let chances = table.numbers(chance, f64::NAN)?;
    let refuse = |error: SurvivalError| table.refusal(&error);
    let found = match arguments.run_length {
        Some(wanted_run_length) => {
            let search = LimitSearch {
                odds_ratio: arguments.odds_ratio,
                wanted_run_length,
                n_simulations: arguments.draws.unwrap_or(USUAL_SIMULATIONS),
                seed: arguments.seed,
            };
            Some(limit_for_run_length(&chances, &search).map_err(refuse)?)
        }
        None => None,
    };
    let options = CumulativeSumOptions {
        odds_ratio: arguments.odds_ratio,
        limit: found.map_or(arguments.limit, |found| found.limit),
        after_signal: AfterSignal::default(),
    };
    let steps = risk_adjusted_cumulative_sum(&chances, &has_event, &options).map_err(refuse)?;
    let mut answer = Answer::of_table(arguments, &table);
    if let Some(found) = found {
        answer.part("simulated_limit", json!(found));
        answer.note("the limit was found by simulation: people are drawn again from the predicted chances of the table");
    } else if let Some(n_simulations) = arguments.draws {
        let run_lengths = [1.0, options.odds_ratio].map(|true_odds_ratio| {
            let simulation = RunLengthSimulation {
                odds_ratio: options.odds_ratio,
                limit: options.limit,
                true_odds_ratio,
                longest: LONGEST_RUN,
                n_simulations,
                seed: arguments.seed,
            };
            simulated_run_length(&chances, &simulation)
                .map(|found| json!({ "true_odds_ratio": true_odds_ratio, "people": found }))
        });
        let run_lengths: Result<Vec<Value>, SurvivalError> = run_lengths.into_iter().collect();
        answer.part("run_lengths", json!(run_lengths.map_err(refuse)?));
    }
    answer.option("event", arguments.event.as_deref().unwrap_or("any"));
    answer.option("odds_ratio", options.odds_ratio);
    answer.option("limit", options.limit);
    answer.option("after_signal", options.after_signal);
    answer.part("steps", json!(steps));
    Ok(answer.finished())
}
