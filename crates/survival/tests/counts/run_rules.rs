//! Run rules, run charts and their false alarms, against hand-made patterns and an independent simulation.

use super::support::{assert_near, case};
use survival::counts::chart::{
    ControlChart, LimitSource, MovingRangeRule, Rule, RuleSet, RunChartOptions, false_alarm_chance,
    individuals_chart, run_chart, signals,
};

fn noise_free(values: &[f64]) -> ControlChart {
    // Limits from a baseline 0, 1.128, 0, ... have standard deviation 1 around 0.564.
    let mut series: Vec<f64> = [0.0, 1.128].repeat(10);
    series.extend(values.iter().map(|z| z + 0.564));
    individuals_chart(&series, Some(20), MovingRangeRule::MeanOverD2)
        .unwrap()
        .chart
}

#[test]
fn each_rule_signals_its_own_pattern() {
    for (values, rule, first, last, is_upward) in [
        (vec![3.2], Rule::BeyondLimit, 21, 21, true),
        (vec![-3.2], Rule::BeyondLimit, 21, 21, false),
        (
            vec![-0.6, -0.7, -0.6, -0.7, -0.6, -0.7, -0.6],
            Rule::Shift,
            21,
            27,
            false,
        ),
        (
            vec![-1.5, -1.0, -0.8, 0.2, 0.9, 1.4],
            Rule::Trend,
            21,
            26,
            true,
        ),
        (vec![-0.2, 2.2, 0.5, 2.3], Rule::TwoOfThree, 22, 24, true),
    ] {
        let found = signals(&noise_free(&values), &RuleSet::default());
        let of_rule: Vec<_> = found.iter().filter(|signal| signal.rule == rule).collect();
        assert_eq!(of_rule.len(), 1, "{rule:?} in {found:?}");
        assert_eq!(
            (of_rule[0].first, of_rule[0].last, of_rule[0].is_upward),
            (first, last, is_upward)
        );
    }
}

#[test]
fn patterns_one_point_short_do_not_signal() {
    for values in [
        vec![2.9],
        vec![-0.6, -0.7, -0.6, -0.7, -0.6, -0.7],
        vec![-1.0, -0.8, 0.2, 0.9, 1.4],
        vec![-0.2, 2.2, 0.5, -0.1, 2.3],
    ] {
        let found = signals(
            &noise_free(&values),
            &RuleSet {
                trend_length: Some(7),
                ..RuleSet::default()
            },
        );
        assert!(found.is_empty(), "{values:?}: {found:?}");
    }
}

#[test]
fn threshold_of_one_point_can_be_moved() {
    let rules = |sigma| RuleSet {
        beyond_sigma: Some(sigma),
        ..RuleSet::default()
    };
    let chart = noise_free(&[2.5]);
    assert!(signals(&chart, &rules(3.0)).is_empty());
    let found = signals(&chart, &rules(2.4));
    assert_eq!(
        (found.len(), found[0].first, found[0].rule),
        (1, 21, Rule::BeyondLimit)
    );
}

#[test]
fn rules_switched_off_stay_silent() {
    let off = RuleSet {
        beyond_sigma: None,
        shift_length: None,
        trend_length: None,
        two_of_three_sigma: None,
    };
    assert!(signals(&noise_free(&[9.0, 9.0, 9.1, 9.2, 9.3, 9.4, 9.5, 9.6]), &off).is_empty());
}

#[test]
fn median_points_are_left_out_of_runs() {
    // Median 2: sides - 0 + 0 - 0 +, so four runs of one point each.
    let chart = run_chart(
        &[1.0, 2.0, 3.0, 2.0, 1.0, 2.0, 3.0],
        RunChartOptions::default(),
    )
    .unwrap();
    assert_eq!(
        (
            chart.median,
            chart.n_useful,
            chart.n_runs,
            chart.longest_run,
            chart.n_crossings
        ),
        (2.0, 4, 4, 1, 3)
    );
    assert!(!chart.has_shift && !chart.has_trend);
    let flat = run_chart(&[2.0, 2.0], RunChartOptions::default()).unwrap();
    assert_eq!(
        (flat.n_useful, flat.longest_run_limit, flat.crossings_limit),
        (0, None, None)
    );
}

#[test]
fn fixed_lengths_of_a_run_chart_need_six_and_five() {
    let values = [1.0, 2.0, 3.0, 4.0, 5.0, 0.5, 9.0, 8.5, 9.0, 8.5, 9.0, 8.5];
    let chart = run_chart(&values, RunChartOptions::default()).unwrap();
    assert!(chart.has_trend && chart.has_shift);
    let shorter = run_chart(&values[1..], RunChartOptions::default()).unwrap();
    assert!(!shorter.has_trend);
}

#[test]
fn false_alarm_chance_agrees_with_an_independent_simulation() {
    for row in case("counts_scipy.json", "false-alarm")["values"]
        .as_array()
        .unwrap()
    {
        let n_points = row["n_points"].as_u64().unwrap() as usize;
        let found =
            false_alarm_chance(&RuleSet::default(), n_points, LimitSource::Known, 4000, 5).unwrap();
        assert_near(
            found.chance,
            row["chance"].as_f64().unwrap(),
            4.0 * found.std_error + 0.004,
        );
    }
}

#[test]
fn limits_from_few_earlier_points_give_more_false_alarms() {
    let rules = RuleSet {
        shift_length: None,
        trend_length: None,
        two_of_three_sigma: None,
        ..RuleSet::default()
    };
    let chance = |limits| false_alarm_chance(&rules, 12, limits, 4000, 5).unwrap();
    let known = chance(LimitSource::Known);
    // One point in 370 beyond 3 standard deviations: 1 - (1 - 0.0027)^12 = 0.0319.
    assert_near(known.chance, 0.0319, 4.0 * known.std_error);
    let few = chance(LimitSource::EarlierPoints { n_baseline: 8 });
    let many = chance(LimitSource::EarlierPoints { n_baseline: 200 });
    assert!(few.chance > 2.0 * known.chance);
    let first = chance(LimitSource::FirstPoints { n_baseline: 8 });
    assert!(first.chance > known.chance);
    // Limits made from all points are those made from the first twelve of twelve.
    assert_eq!(
        chance(LimitSource::FirstPoints { n_baseline: 12 }),
        chance(LimitSource::SamePoints)
    );
    assert_near(many.chance, known.chance, 0.015);
}

#[test]
fn simulated_chart_needs_points_and_repetitions() {
    let refused = |n_points, limits, n_simulations| {
        false_alarm_chance(&RuleSet::default(), n_points, limits, n_simulations, 1).is_err()
    };
    assert!(refused(0, LimitSource::Known, 10));
    assert!(refused(5, LimitSource::Known, 0));
    assert!(refused(1, LimitSource::SamePoints, 10));
    assert!(refused(5, LimitSource::EarlierPoints { n_baseline: 1 }, 10));
}

#[test]
fn rule_set_says_itself_in_words() {
    let words = "1 point beyond 3 standard deviations; 7 in a row on one side of the centre; 6 in a row rising or falling; \
                 2 of 3 beyond 2 standard deviations on one side";
    assert_eq!(RuleSet::default().to_string(), words);
    let none = RuleSet {
        beyond_sigma: None,
        shift_length: None,
        trend_length: None,
        two_of_three_sigma: None,
    };
    assert_eq!(none.to_string(), "no rule");
}
