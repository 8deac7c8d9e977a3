//! Relations that hold for any input.

use proptest::prelude::*;
use survival::counts::chart::{
    ChartOptions, MovingRangeRule, RuleSet, RunChartOptions, Variation, cases_between_chart,
    individuals_chart, proportion_chart, rate_chart, run_chart, signals, time_between_chart,
};
use survival::counts::{
    DirectStratum, EventLaw, FunnelMethod, FunnelOptions, PoissonBinomial, ProportionLimits,
    RateLimits, Widening, direct_standardisation, observed_against_expected, poisson_p_values,
    proportion, proportion_funnel, rate, ratio_funnel, sample_quantile,
};

const PROPORTION_KINDS: [ProportionLimits; 5] = [
    ProportionLimits::Wilson,
    ProportionLimits::WilsonContinuity,
    ProportionLimits::Exact,
    ProportionLimits::MidP,
    ProportionLimits::Jeffreys,
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn limits_of_a_proportion_hold_it_and_widen_with_the_level(n in 1_u64..400, share in 0.0..=1.0_f64) {
        let events = (share * n as f64).round() as u64;
        for method in PROPORTION_KINDS {
            let narrow = proportion(events, n, 0.8, method);
            let (estimate, limits) = (narrow.estimate.unwrap(), narrow.limits.unwrap());
            prop_assert!(0.0 <= limits.lower && limits.lower <= estimate + 1e-12);
            prop_assert!(estimate <= limits.upper + 1e-12 && limits.upper <= 1.0);
            let wide = proportion(events, n, 0.99, method).limits.unwrap();
            prop_assert!(wide.lower <= limits.lower && limits.upper <= wide.upper);
        }
    }

    #[test]
    fn limits_of_the_complement_mirror(n in 1_u64..300, share in 0.0..=1.0_f64) {
        let events = (share * n as f64).round() as u64;
        for method in PROPORTION_KINDS {
            let (own, other) = (proportion(events, n, 0.95, method), proportion(n - events, n, 0.95, method));
            prop_assert!((own.limits.unwrap().lower - (1.0 - other.limits.unwrap().upper)).abs() < 1e-9);
        }
    }

    #[test]
    fn mid_p_limits_lie_inside_the_exact_ones(n_events in 0_u64..500) {
        let of = |method| rate(n_events, 1.0, 0.95, method).limits.unwrap();
        let (exact, mid_p) = (of(RateLimits::Exact), of(RateLimits::MidP));
        prop_assert!(exact.lower <= mid_p.lower && mid_p.upper <= exact.upper);
    }

    #[test]
    fn exact_limits_and_p_value_agree_on_significance(n_events in 0_u64..80, expected in 0.1..60.0_f64) {
        let limits = rate(n_events, expected, 0.95, RateLimits::Exact).limits.unwrap();
        let p_value = poisson_p_values(n_events, expected).unwrap().twice_smaller_tail;
        prop_assert_eq!(p_value < 0.05, limits.lower > 1.0 || limits.upper < 1.0);
    }

    #[test]
    fn exposure_in_another_unit_scales_the_rate(n_events in 0_u64..50, exposure in 0.5..500.0_f64) {
        let limits = |exposure| rate(n_events, exposure, 0.95, RateLimits::Exact).limits.unwrap();
        let (years, days) = (limits(exposure), limits(exposure * 365.0));
        prop_assert!((years.lower - days.lower * 365.0).abs() < 1e-9 * years.upper.max(1.0));
        prop_assert!((years.upper - days.upper * 365.0).abs() < 1e-9 * years.upper.max(1.0));
    }

    #[test]
    fn poisson_binomial_sums_to_one_whatever_the_order(chances in prop::collection::vec(0.0..=1.0_f64, 0..60)) {
        let law = PoissonBinomial::new(&chances).unwrap();
        let n = chances.len() as u64;
        let total: f64 = (0..=n).map(|count| law.probability(count)).sum();
        prop_assert!((total - 1.0).abs() < 1e-12);
        let mean: f64 = (0..=n).map(|count| count as f64 * law.probability(count)).sum();
        prop_assert!((mean - law.mean()).abs() < 1e-10);
        let mut turned = chances.clone();
        turned.reverse();
        prop_assert_eq!(PoissonBinomial::new(&turned).unwrap(), law);
    }

    #[test]
    fn observed_ratio_lies_within_its_limits(
        chances in prop::collection::vec(0.01..0.99_f64, 1..30),
        share in 0.0..=1.0_f64,
    ) {
        let observed = (share * chances.len() as f64).round() as u64;
        let result = observed_against_expected(observed, &chances, 0.9).unwrap();
        let (ratio, limits) = (result.ratio.unwrap(), result.limits.unwrap());
        prop_assert!(limits.lower <= ratio + 1e-12 && ratio <= limits.upper + 1e-12);
        let is_out = limits.lower > 1.0 + 1e-9 || limits.upper < 1.0 - 1e-9;
        prop_assert!(!is_out || result.p_two_sided < 0.1 + 1e-9);
    }

    #[test]
    fn funnel_limits_rise_with_their_probability(size in 1_u64..2000, target in 0.02..0.98_f64) {
        for method in [
            FunnelMethod::Quantile,
            FunnelMethod::Interpolated,
            FunnelMethod::Normal,
            FunnelMethod::Stabilised,
        ] {
            let probabilities = vec![0.001, 0.025, 0.975, 0.999];
            let options = FunnelOptions { target, probabilities, method, widening: Widening::Nothing };
            for points in [proportion_funnel(&[size], &options), ratio_funnel(&[size as f64], &options)] {
                let values: Vec<f64> = points[0].limits.iter().map(|limit| limit.value.unwrap()).collect();
                prop_assert!(values.is_sorted());
            }
        }
    }

    #[test]
    fn equal_strata_standardise_to_their_own_rate(
        n_events in 1_u64..40,
        exposure in 1.0..900.0_f64,
        weights in prop::collection::vec(0.1..9.0_f64, 1..6),
    ) {
        let stratum = |weight: &f64| DirectStratum { n_events, exposure, standard_weight: *weight };
        let strata: Vec<DirectStratum> = weights.iter().map(stratum).collect();
        let result = direct_standardisation(&strata, 0.95, EventLaw::Rate);
        let own = n_events as f64 / exposure;
        prop_assert!((result.estimate.unwrap() - own).abs() < 1e-10 * own);
        let limits = result.gamma_limits.unwrap();
        prop_assert!(limits.lower < own && own < limits.upper);
    }

    #[test]
    fn shifted_measurements_shift_the_chart(
        values in prop::collection::vec(-50.0..50.0_f64, 2..40),
        by in -20.0..20.0_f64,
    ) {
        let moved: Vec<f64> = values.iter().map(|value| value + by).collect();
        let own = individuals_chart(&values, None, MovingRangeRule::Mean).unwrap();
        let other = individuals_chart(&moved, None, MovingRangeRule::Mean).unwrap();
        prop_assert!((own.chart.centre + by - other.chart.centre).abs() < 1e-9);
        prop_assert!((own.mean_moving_range - other.mean_moving_range).abs() < 1e-9);
    }

    #[test]
    fn any_counts_are_charted_or_refused_without_panic(
        rows in prop::collection::vec((any::<u64>(), any::<u64>(), any::<f64>()), 0..20),
        n_baseline in prop::option::of(0_usize..30),
    ) {
        let events: Vec<u64> = rows.iter().map(|row| row.0).collect();
        let sizes: Vec<u64> = rows.iter().map(|row| row.1).collect();
        let numbers: Vec<f64> = rows.iter().map(|row| row.2).collect();
        for variation in [Variation::Chance, Variation::Laney] {
            let options = ChartOptions { n_baseline, variation };
            let charts = [
                proportion_chart(&events, &sizes, &options),
                rate_chart(&events, &numbers, &options),
                cases_between_chart(&events, n_baseline),
                time_between_chart(&numbers, n_baseline),
            ];
            for chart in charts.into_iter().flatten() {
                prop_assert_eq!(chart.points.len(), rows.len());
                signals(&chart, &RuleSet::default());
            }
        }
        if let Ok(chart) = run_chart(&numbers, RunChartOptions::default()) {
            prop_assert!(chart.longest_run <= chart.n_useful);
        }
    }

    #[test]
    fn quantiles_stay_between_the_extremes(
        values in prop::collection::vec(-1e6..1e6_f64, 1..50),
        probability in 0.0..=1.0_f64,
    ) {
        let quantile = sample_quantile(&values, probability).unwrap();
        let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(*v), high.max(*v)));
        prop_assert!(low <= quantile && quantile <= high);
    }
}
