//! Poisson counts, rates and standardisation: R poisson.test and qgamma, scipy, epitools.

use super::support::{assert_all_near, assert_near, case, column, counts, numbers};
use survival::counts::{
    DirectStratum, EventLaw, IndirectStratum, RateLimits, direct_standardisation, homogeneity,
    indirect_standardisation, poisson_byar, poisson_exact, poisson_mid_p, poisson_p_values, rate,
};

#[test]
fn site_ratios_agree_with_r_by_three_methods_and_two_levels() {
    let reference = case("rates.json", "oe-sites");
    let (observed, expected) = (
        counts("sites_oe.csv", "observed"),
        column("sites_oe.csv", "expected"),
    );
    for by_level in reference["values"]["by_level"].as_array().unwrap() {
        let level = by_level["level"].as_f64().unwrap();
        for (name, method, tolerance) in [
            ("exact", RateLimits::Exact, 1e-9),
            ("byar", RateLimits::Byar, 1e-9),
            ("mid_p", RateLimits::MidP, 1e-7),
        ] {
            let rates: Vec<_> = observed
                .iter()
                .zip(&expected)
                .map(|(o, e)| rate(*o, *e, level, method))
                .collect();
            let estimates: Vec<f64> = rates.iter().map(|rate| rate.estimate.unwrap()).collect();
            let lower: Vec<f64> = rates
                .iter()
                .map(|rate| rate.limits.unwrap().lower)
                .collect();
            let upper: Vec<f64> = rates
                .iter()
                .map(|rate| rate.limits.unwrap().upper)
                .collect();
            assert_all_near(&estimates, &numbers(&reference["values"]["smr"]), 1e-12);
            assert_all_near(&lower, &numbers(&by_level[name]["lower"]), tolerance);
            assert_all_near(&upper, &numbers(&by_level[name]["upper"]), tolerance);
        }
    }
}

#[test]
fn site_p_values_agree_with_r_in_three_conventions() {
    let reference = case("rates.json", "oe-sites");
    let (observed, expected) = (
        counts("sites_oe.csv", "observed"),
        column("sites_oe.csv", "expected"),
    );
    let p_values: Vec<_> = observed
        .iter()
        .zip(&expected)
        .map(|(o, e)| poisson_p_values(*o, *e).unwrap())
        .collect();
    let values = &reference["values"];
    let exact: Vec<f64> = p_values.iter().map(|p| p.twice_smaller_tail).collect();
    let mid_p: Vec<f64> = p_values.iter().map(|p| p.mid_p).collect();
    let likelihood: Vec<f64> = p_values.iter().map(|p| p.minimum_likelihood).collect();
    assert_all_near(
        &exact,
        &numbers(&values["p_exact_twice_smaller_tail"]),
        1e-8,
    );
    assert_all_near(&mid_p, &numbers(&values["p_mid_twice_smaller_tail"]), 1e-8);
    assert_all_near(
        &likelihood,
        &numbers(&values["p_poisson_test_minlike"]),
        1e-8,
    );
    let total = homogeneity(&observed, &expected).unwrap();
    assert_eq!(
        total.observed,
        values["total"]["observed"].as_f64().unwrap()
    );
    assert_near(
        total.expected,
        values["total"]["expected"].as_f64().unwrap(),
        1e-9,
    );
    assert_near(
        total.statistic,
        values["total"]["chisq_homogeneity"].as_f64().unwrap(),
        1e-9,
    );
    assert_eq!(total.df as u64, values["total"]["df"].as_u64().unwrap());
    let p_value = &case("counts_scipy.json", "homogeneity-p")["values"]["p_value"];
    assert_near(total.p_value, p_value.as_f64().unwrap(), 1e-10);
}

#[test]
fn garwood_limits_of_counts() {
    // Chi-square quantiles; the row of 0 is -ln(0.025).
    for (count, lower, upper) in [
        (0, 0.0, 3.6889),
        (1, 0.0253, 5.5716),
        (2, 0.2422, 7.2247),
        (3, 0.6187, 8.7673),
        (5, 1.6235, 11.6683),
        (10, 4.7954, 18.3904),
        (20, 12.2165, 30.8884),
        (50, 37.1110, 65.9188),
        (100, 81.3640, 121.6268),
    ] {
        let limits = poisson_exact(count, 0.95).unwrap();
        assert_near(limits.lower, lower, 5e-5);
        assert_near(limits.upper, upper, 5e-5);
    }
}

#[test]
fn byar_of_ten_and_mid_p_of_nine() {
    let byar = poisson_byar(10, 0.95).unwrap();
    assert_near(byar.lower, 4.7874, 5e-5);
    assert_near(byar.upper, 18.3915, 5e-5);
    let mid_p = poisson_mid_p(9, 0.95).unwrap();
    assert_near(mid_p.lower, 4.3891, 5e-5);
    assert_near(mid_p.upper, 16.5164, 5e-5);
}

#[test]
fn mid_p_of_no_event_has_the_closed_form_upper_limit() {
    // Half of exp(-mean) is 0.025.
    let limits = poisson_mid_p(0, 0.95).unwrap();
    assert_eq!(limits.lower, 0.0);
    assert_near(limits.upper, 20.0_f64.ln(), 1e-12);
}

#[test]
fn poisson_p_values_of_edges() {
    let certain = poisson_p_values(0, 0.0).unwrap();
    assert_eq!(
        (certain.twice_smaller_tail, certain.minimum_likelihood),
        (1.0, 1.0)
    );
    let impossible = poisson_p_values(2, 0.0).unwrap();
    assert_eq!(
        (impossible.twice_smaller_tail, impossible.minimum_likelihood),
        (0.0, 0.0)
    );
    // 0 of 3: lower tail exp(-3); counts of 7 and more are no likelier than 0.
    let expected =
        &case("counts_scipy.json", "poisson-zero-of-three")["values"]["minimum_likelihood"];
    assert_near(
        poisson_p_values(0, 3.0).unwrap().minimum_likelihood,
        expected.as_f64().unwrap(),
        1e-10,
    );
    assert_eq!(poisson_p_values(1, f64::NAN), None);
    assert_eq!(poisson_p_values(1, -1.0), None);
}

#[test]
fn rate_without_exposure_is_not_estimable() {
    for exposure in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let result = rate(3, exposure, 0.95, RateLimits::Exact);
        assert_eq!((result.estimate, result.limits), (None, None));
    }
    assert_eq!(rate(0, 2.0, 0.95, RateLimits::Log).limits, None);
}

#[test]
fn indirect_standardisation_agrees_with_epitools() {
    let reference = case("rates.json", "indirect-std");
    let values = &reference["values"];
    let strata: Vec<IndirectStratum> = counts("indirect_std.csv", "study_events")
        .into_iter()
        .zip(column("indirect_std.csv", "study_py"))
        .zip(
            column("indirect_std.csv", "ref_events")
                .into_iter()
                .zip(column("indirect_std.csv", "ref_py")),
        )
        .map(
            |((n_events, exposure), (reference_events, reference_exposure))| IndirectStratum {
                n_events,
                exposure,
                reference_events,
                reference_exposure,
            },
        )
        .collect();
    let exact = indirect_standardisation(&strata, 0.95, RateLimits::Exact).unwrap();
    assert_all_near(
        &exact.expected_by_stratum,
        &numbers(&values["expected_by_stratum"]),
        1e-10,
    );
    assert_eq!(exact.ratio.n_events, values["observed"].as_u64().unwrap());
    assert_near(
        exact.ratio.exposure,
        values["expected"].as_f64().unwrap(),
        1e-10,
    );
    assert_near(
        exact.ratio.estimate.unwrap(),
        values["smr"].as_f64().unwrap(),
        1e-10,
    );
    let limits = exact.ratio.limits.unwrap();
    assert_all_near(
        &[limits.lower, limits.upper],
        &numbers(&values["exact95"]),
        1e-9,
    );
    assert_near(
        exact.adjusted_rate.unwrap(),
        values["adjusted_rate"].as_f64().unwrap(),
        1e-12,
    );

    let log = indirect_standardisation(&strata, 0.95, RateLimits::Log).unwrap();
    let (ratio, rates) = (
        numbers(&values["epitools"]["sir"]),
        numbers(&values["epitools"]["rate"]),
    );
    assert_near(log.ratio.limits.unwrap().lower, ratio[3], 1e-9);
    assert_near(log.ratio.limits.unwrap().upper, ratio[4], 1e-9);
    assert_near(log.crude_rate.unwrap(), rates[0], 1e-12);
    assert_near(log.adjusted_rate.unwrap(), rates[1], 1e-12);
    assert_near(log.adjusted_limits.unwrap().lower, rates[2], 1e-9);
    assert_near(log.adjusted_limits.unwrap().upper, rates[3], 1e-9);

    let direct: Vec<DirectStratum> = strata
        .iter()
        .map(|s| DirectStratum {
            n_events: s.n_events,
            exposure: s.exposure,
            standard_weight: s.reference_exposure,
        })
        .collect();
    let direct = direct_standardisation(&direct, 0.95, EventLaw::Rate);
    assert_near(
        direct.estimate.unwrap(),
        values["direct_rate"].as_f64().unwrap(),
        1e-12,
    );
    let fay_feuer = &case("counts_scipy.json", "direct-gamma")["values"];
    let gamma = direct.gamma_limits.unwrap();
    assert_near(
        direct.variance.unwrap(),
        fay_feuer["variance"].as_f64().unwrap(),
        1e-15,
    );
    assert_near(gamma.lower, fay_feuer["lower"].as_f64().unwrap(), 1e-10);
    assert_near(gamma.upper, fay_feuer["upper"].as_f64().unwrap(), 1e-10);
}

#[test]
fn one_stratum_directly_standardised_is_its_own_rate_with_exact_limits() {
    let stratum = DirectStratum {
        n_events: 9,
        exposure: 4.2,
        standard_weight: 17.0,
    };
    let result = direct_standardisation(&[stratum], 0.95, EventLaw::Rate);
    let exact = rate(9, 4.2, 0.95, RateLimits::Exact).limits.unwrap();
    let gamma = result.gamma_limits.unwrap();
    assert_near(gamma.lower, exact.lower, 1e-12);
    assert_near(gamma.upper, exact.upper, 1e-12);
}

#[test]
fn standardised_proportion_is_the_weighted_mean_of_shares() {
    // 3/10 and 8/10 at weights 1 and 3: 0.075 + 0.6; variance 0.0625 * 0.021 + 0.5625 * 0.016.
    let strata = [
        DirectStratum {
            n_events: 3,
            exposure: 10.0,
            standard_weight: 1.0,
        },
        DirectStratum {
            n_events: 8,
            exposure: 10.0,
            standard_weight: 3.0,
        },
    ];
    let result = direct_standardisation(&strata, 0.95, EventLaw::Proportion);
    assert_near(result.estimate.unwrap(), 0.675, 1e-15);
    assert_near(
        result.variance.unwrap(),
        0.0625 * 0.021 + 0.5625 * 0.016,
        1e-15,
    );
}

#[test]
fn standardisation_without_exposure_is_not_estimable() {
    let bare = IndirectStratum {
        n_events: 1,
        exposure: 5.0,
        reference_events: 2.0,
        reference_exposure: 0.0,
    };
    assert_eq!(
        indirect_standardisation(&[bare], 0.95, RateLimits::Exact),
        None
    );
    let empty = indirect_standardisation(&[], 0.95, RateLimits::Exact).unwrap();
    assert_eq!((empty.ratio.estimate, empty.crude_rate), (None, None));
    let unseen = DirectStratum {
        n_events: 0,
        exposure: 0.0,
        standard_weight: 1.0,
    };
    assert_eq!(
        direct_standardisation(&[unseen], 0.95, EventLaw::Rate).estimate,
        None
    );
    assert_eq!(
        direct_standardisation(&[], 0.95, EventLaw::Rate).estimate,
        None
    );
}
