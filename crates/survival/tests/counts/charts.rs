//! Control and run charts: NIST handbook, closed forms computed in R and numpy.

use super::support::{assert_all_near, assert_near, case, column, counts, numbers};
use serde_json::Value;
use survival::SurvivalError;
use survival::counts::chart::{
    ChartOptions, ControlChart, MovingRangeRule, RunChartOptions, Variation, cases_between_chart,
    count_chart, exponentially_weighted_chart, individuals_chart, measurement_baseline,
    measurement_cumulative_sums, proportion_chart, rate_chart, run_chart, time_between_chart,
};

const LANEY: ChartOptions = ChartOptions {
    n_baseline: None,
    variation: Variation::Laney,
};

fn lower(chart: &ControlChart) -> Vec<f64> {
    chart
        .points
        .iter()
        .map(|point| point.lower.unwrap())
        .collect()
}

fn upper(chart: &ControlChart) -> Vec<f64> {
    chart
        .points
        .iter()
        .map(|point| point.upper.unwrap())
        .collect()
}

fn charted(chart: &ControlChart) -> Vec<f64> {
    chart
        .points
        .iter()
        .map(|point| point.value.unwrap())
        .collect()
}

#[track_caller]
fn assert_same_chart(chart: &ControlChart, laney: &ControlChart, values: &Value) {
    assert_near(chart.centre, values["center"].as_f64().unwrap(), 1e-9);
    assert_all_near(&charted(chart), &numbers(&values["point"]), 1e-9);
    assert_all_near(&upper(chart), &numbers(&values["ucl"]), 1e-9);
    assert_all_near(&lower(chart), &numbers(&values["lcl"]), 1e-9);
    let outside: Vec<f64> = chart
        .outside()
        .iter()
        .map(|position| *position as f64)
        .collect();
    assert_eq!(outside, numbers(&values["outside"]));
    assert_near(
        laney.sigma_z.unwrap(),
        values["laney_sigma_z"].as_f64().unwrap(),
        1e-9,
    );
    assert_all_near(&upper(laney), &numbers(&values["laney_ucl"]), 1e-9);
    assert_all_near(&lower(laney), &numbers(&values["laney_lcl"]), 1e-9);
}

#[test]
fn monthly_proportions_agree_with_r() {
    let reference = case("rates.json", "spc-p-monthly");
    let (events, n) = (
        counts("spc_monthly.csv", "healed"),
        counts("spc_monthly.csv", "seen"),
    );
    let chart = proportion_chart(&events, &n, &ChartOptions::default()).unwrap();
    assert_same_chart(
        &chart,
        &proportion_chart(&events, &n, &LANEY).unwrap(),
        &reference["values"],
    );
    assert_same_runs(&charted(&chart), &reference["values"]["runs"]);
}

#[test]
fn monthly_rates_agree_with_r() {
    let reference = case("rates.json", "spc-u-monthly");
    let (events, exposure) = (
        counts("spc_monthly.csv", "amputations"),
        column("spc_monthly.csv", "person_years"),
    );
    let chart = rate_chart(&events, &exposure, &ChartOptions::default()).unwrap();
    assert_same_chart(
        &chart,
        &rate_chart(&events, &exposure, &LANEY).unwrap(),
        &reference["values"],
    );
}

#[track_caller]
fn assert_same_runs(values: &[f64], runs: &Value) {
    let found = run_chart(values, RunChartOptions::default()).unwrap();
    assert_eq!(found.n_useful as u64, runs["n_useful"].as_u64().unwrap());
    assert_eq!(found.n_runs as u64, runs["n_runs"].as_u64().unwrap());
    assert_eq!(found.longest_run as u64, runs["longest"].as_u64().unwrap());
    assert_eq!(
        found.longest_run_limit.unwrap() as u64,
        runs["longest_limit_anhoej"].as_u64().unwrap()
    );
    assert_eq!(
        found.n_crossings as u64,
        runs["crossings"].as_u64().unwrap()
    );
    assert_eq!(
        found.crossings_limit.unwrap() as u64,
        runs["crossings_limit_anhoej"].as_u64().unwrap()
    );
}

#[test]
fn individual_values_agree_with_r_under_every_rule() {
    let reference = case("rates.json", "spc-xmr");
    let values = column("spc_individuals.csv", "value");
    let expected = |name: &str| reference["values"][name].as_f64().unwrap();
    for (rule, high, low) in [
        (MovingRangeRule::Mean, "ucl", "lcl"),
        (MovingRangeRule::MeanOverD2, "ucl_d2", "lcl_d2"),
        (MovingRangeRule::Median, "ucl_median_mr", "lcl_median_mr"),
    ] {
        let result = individuals_chart(&values, None, rule).unwrap();
        assert_near(result.chart.points[0].upper.unwrap(), expected(high), 1e-9);
        assert_near(result.chart.points[0].lower.unwrap(), expected(low), 1e-9);
        assert_near(result.chart.centre, expected("center"), 1e-9);
        assert_near(result.mean_moving_range, expected("mean_mr"), 1e-9);
        assert_near(result.moving_range_upper, expected("mr_ucl"), 1e-9);
        assert_near(
            result.screened_mean_moving_range,
            expected("mean_mr_screened"),
            1e-9,
        );
        assert!(result.chart.outside().is_empty());
    }
    assert_same_runs(&values, &reference["values"]["runs"]);
}

#[test]
fn nist_flow_rate_example() {
    // NIST/SEMATECH e-Handbook, section 6.3.2.2: limits 55.8041 and 45.8159 from 3 / 1.128.
    let values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let result = individuals_chart(&values, None, MovingRangeRule::MeanOverD2).unwrap();
    assert_near(result.chart.centre, 50.81, 1e-9);
    assert_near(result.mean_moving_range, 1.87778, 5e-6);
    assert_near(result.chart.points[0].upper.unwrap(), 55.8041, 5e-5);
    assert_near(result.chart.points[0].lower.unwrap(), 45.8159, 5e-5);
}

#[test]
fn one_wild_range_is_screened_out() {
    let values = [
        5.0, 6.0, 5.0, 6.0, 5.0, 6.0, 30.0, 6.0, 5.0, 6.0, 5.0, 6.0, 5.0, 6.0,
    ];
    let result = individuals_chart(&values, None, MovingRangeRule::Screened).unwrap();
    assert_near(result.screened_mean_moving_range, 1.0, 1e-12);
    assert_near(
        result.chart.points[0].upper.unwrap() - result.chart.centre,
        2.66,
        1e-12,
    );
    assert_eq!(result.chart.outside(), [7]);
}

#[test]
fn smoothed_chart_agrees_with_r() {
    let reference = case("rates.json", "spc-ewma");
    let values = column("spc_individuals.csv", "value");
    let baseline = measurement_baseline(&values, Some(18)).unwrap();
    let points = exponentially_weighted_chart(&values, 0.2, baseline).unwrap();
    let of = |part: fn(&survival::counts::chart::SmoothedPoint) -> f64| {
        points.iter().map(part).collect::<Vec<f64>>()
    };
    assert_all_near(
        &of(|point| point.value),
        &numbers(&reference["values"]["z"]),
        1e-9,
    );
    assert_all_near(
        &of(|point| point.upper),
        &numbers(&reference["values"]["ucl"]),
        1e-9,
    );
    assert_all_near(
        &of(|point| point.lower),
        &numbers(&reference["values"]["lcl"]),
        1e-9,
    );
}

#[test]
fn measurement_sums_agree_with_r() {
    let reference = case("rates.json", "spc-cusum");
    let values = column("spc_individuals.csv", "value");
    let baseline = measurement_baseline(&values, Some(18)).unwrap();
    let points = measurement_cumulative_sums(&values, 0.5, baseline).unwrap();
    let (up, down): (Vec<f64>, Vec<f64>) = points
        .iter()
        .map(|point| (point.upper, point.lower))
        .unzip();
    assert_all_near(&up, &numbers(&reference["values"]["upper"]), 1e-9);
    assert_all_near(&down, &numbers(&reference["values"]["lower"]), 1e-9);
}

#[test]
fn laney_spread_of_eight_months() {
    let events = [12, 15, 9, 20, 14, 11, 18, 16];
    let n = [25, 28, 22, 35, 30, 24, 33, 31];
    let chart = proportion_chart(&events, &n, &LANEY).unwrap();
    assert_near(chart.centre, 0.504386, 5e-7);
    assert_near(chart.sigma_z.unwrap(), 0.759493, 5e-7);
}

#[test]
fn count_rate_and_share_limits_by_hand() {
    let count = count_chart(&[16, 16, 16], None).unwrap();
    assert_eq!(
        (count.points[0].lower, count.points[0].upper),
        (Some(4.0), Some(28.0))
    );
    let rate = rate_chart(
        &[3, 5, 2, 6],
        &[120.0, 150.0, 90.0, 160.0],
        &ChartOptions::default(),
    )
    .unwrap();
    assert_near(rate.centre, 0.030769, 5e-7);
    assert_all_near(&upper(&rate), &[0.0788, 0.0737, 0.0862, 0.0724], 5e-5);
    assert_eq!(lower(&rate), [0.0; 4]);
    // 0.2313 at n = 50: 0.4102 and 0.0524.
    let share = proportion_chart(
        &[2313, 12],
        &[10_000, 50],
        &ChartOptions {
            n_baseline: Some(1),
            ..Default::default()
        },
    )
    .unwrap();
    assert_near(share.points[1].upper.unwrap(), 0.4102, 5e-5);
    assert_near(share.points[1].lower.unwrap(), 0.0524, 5e-5);
}

#[test]
fn gaps_between_rare_events() {
    for (gap, limit) in [(24, 97.485), (10, 41.464)] {
        let chart = cases_between_chart(&[gap, gap, gap], None).unwrap();
        assert_near(chart.points[0].upper.unwrap(), limit, 5e-4);
        assert_eq!(chart.points[0].lower, Some(0.0));
    }
}

#[test]
fn time_chart_is_the_individuals_chart_of_transformed_times() {
    // Transformed values 2, 3, 2, 3: centre 2.5, mean range 1, limits 2.5 - 2.66 (below 0) and 5.16.
    let times: Vec<f64> = [2.0_f64, 3.0, 2.0, 3.0]
        .iter()
        .map(|y| y.powf(3.6))
        .collect();
    let chart = time_between_chart(&times, None).unwrap();
    assert_near(chart.centre, 2.5_f64.powf(3.6), 1e-9);
    assert_near(chart.points[0].upper.unwrap(), 5.16_f64.powf(3.6), 1e-9);
    assert_eq!(chart.points[0].lower, Some(0.0));
    assert_eq!(chart.points[0].value, Some(times[0]));
}

#[test]
fn month_without_denominator_keeps_its_place() {
    let chart = proportion_chart(&[5, 0, 6], &[10, 0, 12], &ChartOptions::default()).unwrap();
    assert_eq!(chart.points[1].value, None);
    assert_eq!(chart.points[2].position, 3);
    assert_near(chart.centre, 0.5, 1e-15);
}

#[test]
fn a_series_in_which_nothing_happened_has_limits_at_nothing() {
    let options = ChartOptions {
        n_baseline: None,
        variation: Variation::Laney,
    };
    let shares = proportion_chart(&[0, 0, 0], &[10, 12, 9], &options).unwrap();
    let rates = rate_chart(&[0, 0, 0], &[10.0, 12.0, 9.0], &options).unwrap();
    for chart in [shares, rates] {
        assert_eq!((chart.centre, chart.sigma_z), (0.0, None));
        let limits = chart.points.iter().map(|point| (point.lower, point.upper));
        assert!(limits.eq([(Some(0.0), Some(0.0)); 3]));
        assert!(chart.outside().is_empty());
    }
}

#[test]
fn unusable_series_are_named_errors() {
    let options = ChartOptions::default();
    assert!(matches!(
        proportion_chart(&[1], &[], &options),
        Err(SurvivalError::UnequalColumns { .. })
    ));
    assert!(matches!(
        proportion_chart(&[3], &[2], &options),
        Err(SurvivalError::AboveDenominator { row: 1, .. })
    ));
    assert!(matches!(
        proportion_chart(&[0], &[0], &options),
        Err(SurvivalError::TooFewValues { .. })
    ));
    assert!(matches!(
        rate_chart(&[1], &[f64::NAN], &options),
        Err(SurvivalError::NotFinite { row: 1, .. })
    ));
    assert!(matches!(
        individuals_chart(&[1.0], None, MovingRangeRule::Mean),
        Err(SurvivalError::TooFewValues { .. })
    ));
    assert!(matches!(
        time_between_chart(&[-1.0, 2.0], None),
        Err(SurvivalError::Negative { row: 1, .. })
    ));
    assert!(matches!(
        measurement_baseline(&[2.0, 2.0], None),
        Err(SurvivalError::SettingOutOfRange { .. })
    ));
    assert!(matches!(
        run_chart(&[], RunChartOptions::default()),
        Err(SurvivalError::TooFewValues { .. })
    ));
    assert!(cases_between_chart(&[], None).is_err() && count_chart(&[], None).is_err());
}
