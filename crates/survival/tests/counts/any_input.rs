//! No input, however odd, makes a panic or a number that is not one.

use proptest::prelude::*;
use survival::counts::chart::{
    MeasurementBaseline, MovingRangeRule, exponentially_weighted_chart, individuals_chart,
    measurement_cumulative_sums,
};
use survival::counts::*;
use survival::weighting::*;
use survival::{Limits, Sample};

fn odd_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        0.0..=1.0_f64,
        0.0..1e3_f64,
        prop::sample::select(vec![
            0.0,
            -0.0,
            1.0,
            f64::NAN,
            f64::INFINITY,
            f64::MIN_POSITIVE,
            5e-324,
            f64::MAX,
            1.0 - f64::EPSILON,
        ]),
    ]
}

fn odd_count() -> impl Strategy<Value = u64> {
    prop_oneof![
        0_u64..20,
        any::<u64>(),
        prop::sample::select(vec![0, 1, u64::MAX, 1 << 40])
    ]
}

fn numbers(n: usize) -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(odd_number(), 0..n)
}

/// In order up to rounding: at a level of next to nothing both limits are the estimate.
fn is_sound(limits: Option<ConfidenceLimits>) -> bool {
    limits.is_none_or(|limits| limits.lower <= limits.upper + 1e-9 * limits.upper.abs().max(1e-6))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn limits_of_any_count(
        events in odd_count(),
        n in odd_count(),
        exposure in odd_number(),
        level in odd_number(),
    ) {
        for method in [
            ProportionLimits::Wilson,
            ProportionLimits::WilsonContinuity,
            ProportionLimits::Exact,
            ProportionLimits::MidP,
            ProportionLimits::AgrestiCoull,
            ProportionLimits::Jeffreys,
            ProportionLimits::Linear,
        ] {
            prop_assert!(is_sound(proportion(events, n, level, method).limits));
        }
        for method in [RateLimits::Exact, RateLimits::MidP, RateLimits::Byar, RateLimits::Log] {
            prop_assert!(is_sound(rate(events, exposure, level, method).limits));
        }
        if let Some(p_values) = poisson_p_values(events, exposure) {
            for p_value in [p_values.twice_smaller_tail, p_values.mid_p, p_values.minimum_likelihood] {
                prop_assert!((0.0..=1.0).contains(&p_value));
            }
        }
    }

    #[test]
    fn any_chances(chances in numbers(12), observed in 0_u64..12, level in odd_number()) {
        if let Some(result) = observed_against_expected(observed, &chances, level) {
            prop_assert!(is_sound(result.limits) && is_sound(result.allowed));
            prop_assert!((0.0..=1.0).contains(&result.p_two_sided) && (0.0..=1.0).contains(&result.p_mid));
        }
        let has_event: Vec<bool> = chances.iter().map(|chance| *chance > 0.5).collect();
        let options = CumulativeSumOptions { odds_ratio: level, limit: 2.0, after_signal: AfterSignal::Restart };
        if let Ok(steps) = risk_adjusted_cumulative_sum(&chances, &has_event, &options) {
            prop_assert!(steps.iter().all(|step| step.sum >= 0.0));
        }
    }

    #[test]
    fn any_funnel(
        sizes in numbers(6),
        counts in prop::collection::vec(odd_count(), 6),
        target in odd_number(),
        probability in odd_number(),
        extra in odd_number(),
    ) {
        for method in [
            FunnelMethod::Quantile,
            FunnelMethod::Interpolated,
            FunnelMethod::Normal,
            FunnelMethod::Stabilised,
            FunnelMethod::Wilson,
        ] {
            for widening in [
                Widening::Nothing,
                Widening::Multiplicative { phi: extra },
                Widening::Additive { tau_squared: extra },
            ] {
                let options = FunnelOptions { target, probabilities: vec![probability], method, widening };
                let (ratios, proportions) = (ratio_funnel(&sizes, &options), proportion_funnel(&counts, &options));
                for point in ratios.iter().chain(&proportions) {
                    prop_assert!(point.limits.iter().all(|limit| limit.value.is_none_or(f64::is_finite)));
                }
            }
            predicted_funnel(std::slice::from_ref(&sizes), &[probability], method);
        }
        let observed = counts.get(..sizes.len()).unwrap_or_default();
        for winsorising in [
            Winsorising::Nothing,
            Winsorising::Quantile { share: extra },
            Winsorising::Count { share: extra },
        ] {
            for scale in [Scale::Plain, Scale::Stabilised] {
                ratio_overdispersion(observed, &sizes, target, scale, winsorising);
                proportion_overdispersion(observed, &counts, target, scale, winsorising);
            }
        }
        homogeneity(observed, &sizes);
    }

    #[test]
    fn any_strata(
        rows in prop::collection::vec((odd_count(), odd_number(), odd_number(), odd_number()), 0..5),
        level in odd_number(),
    ) {
        let indirect: Vec<IndirectStratum> = rows
            .iter()
            .map(|row| IndirectStratum {
                n_events: row.0,
                exposure: row.1,
                reference_events: row.2,
                reference_exposure: row.3,
            })
            .collect();
        indirect_standardisation(&indirect, level, RateLimits::Exact);
        let direct: Vec<DirectStratum> = rows
            .iter()
            .map(|row| DirectStratum { n_events: row.0, exposure: row.1, standard_weight: row.2 })
            .collect();
        for law in [EventLaw::Rate, EventLaw::Proportion] {
            prop_assert!(is_sound(direct_standardisation(&direct, level, law).gamma_limits));
        }
    }

    #[test]
    fn any_measurements(
        values in numbers(12),
        n_baseline in 0_usize..14,
        weight in odd_number(),
        centre in odd_number(),
        sigma in odd_number(),
    ) {
        for rule in [
            MovingRangeRule::Mean,
            MovingRangeRule::MeanOverD2,
            MovingRangeRule::Median,
            MovingRangeRule::Screened,
        ] {
            drop(individuals_chart(&values, Some(n_baseline), rule));
        }
        let baseline = MeasurementBaseline { centre, sigma };
        drop(exponentially_weighted_chart(&values, weight, baseline));
        drop(measurement_cumulative_sums(&values, weight, baseline));
        sample_quantile(&values, weight);
    }

    #[test]
    fn any_weighted_comparison(
        rows in prop::collection::vec((odd_number(), 0_u32..3, any::<bool>(), odd_number(), odd_number()), 0..12),
        time in odd_number(),
        level in odd_number(),
    ) {
        let column = |part: fn(&(f64, u32, bool, f64, f64)) -> f64| rows.iter().map(part).collect::<Vec<f64>>();
        let is_treated: Vec<bool> = rows.iter().map(|row| row.2).collect();
        let group: Vec<u32> = rows.iter().map(|row| row.1).collect();
        let (propensity, values) = (column(|row| row.3), column(|row| row.4));
        effective_size(&values);
        for kind in [CovariateKind::Mean, CovariateKind::Proportion] {
            drop(standardised_difference(&values, &is_treated, &propensity, kind));
        }
        let Ok(sample) = Sample::new(column(|row| row.0), group.clone()) else { return Ok(()) };
        drop(weighted_curves(&sample, &group, &values, level, Limits::LogLog));
        drop(weighted_incidence(&sample, &group, &values, level, Limits::Log));
        for population in [Population::Average, Population::Treated, Population::Overlap] {
            let truncation = Some(Truncation { lower: level, upper: time });
            for truncation in [None, truncation] {
                let options = WeightOptions { population, is_stabilised: true, truncation };
                let Ok(weights) = propensity_weights(&is_treated, &propensity, &options) else { continue };
                for target in [
                    Target::EventFree { time },
                    Target::Incidence { cause: 1, time },
                    Target::RestrictedMean { until: time },
                ] {
                    drop(weighted_contrast(&sample, &is_treated, &weights, target, level));
                }
            }
        }
    }
}
