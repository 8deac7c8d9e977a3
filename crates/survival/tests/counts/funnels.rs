//! Funnel limits and over-dispersion: R qpois and qbinom with the formulas of Spiegelhalter 2005.

use super::support::{assert_all_near, assert_near, case, column, counts, numbers};
use survival::counts::{
    FunnelMethod, FunnelOptions, FunnelPoint, Scale, Widening, Winsorising, predicted_funnel,
    proportion_funnel, proportion_overdispersion, ratio_funnel, ratio_overdispersion,
};

fn options(
    target: f64,
    probability: f64,
    method: FunnelMethod,
    widening: Widening,
) -> FunnelOptions {
    FunnelOptions {
        target,
        probabilities: vec![probability],
        method,
        widening,
    }
}

fn values(points: &[FunnelPoint]) -> Vec<f64> {
    points
        .iter()
        .map(|point| point.limits[0].value.unwrap())
        .collect()
}

#[test]
fn site_limits_agree_with_r() {
    let reference = case("rates.json", "funnel-sites");
    let expected = column("sites_oe.csv", "expected");
    let n = counts("sites_oe.csv", "n");
    let ratios = [
        ("quantile", FunnelMethod::Quantile),
        ("interpolated", FunnelMethod::Interpolated),
        ("sqrt_normal", FunnelMethod::Stabilised),
    ];
    for row in reference["values"]["oe_limits"].as_array().unwrap() {
        let p = row["p"].as_f64().unwrap();
        for (name, method) in ratios {
            let found = values(&ratio_funnel(
                &expected,
                &options(1.0, p, method, Widening::Nothing),
            ));
            assert_all_near(&found, &numbers(&row[name]), 1e-9);
        }
        // The reference does not clip the normal limit at 0; a ratio cannot be negative.
        let clipped: Vec<f64> = numbers(&row["normal"])
            .into_iter()
            .map(|limit| limit.max(0.0))
            .collect();
        let found = values(&ratio_funnel(
            &expected,
            &options(1.0, p, FunnelMethod::Normal, Widening::Nothing),
        ));
        assert_all_near(&found, &clipped, 1e-9);
    }
    let target = reference["values"]["proportion_target"].as_f64().unwrap();
    let proportions = [
        ("quantile", FunnelMethod::Quantile),
        ("interpolated", FunnelMethod::Interpolated),
        ("normal", FunnelMethod::Normal),
        ("wilson", FunnelMethod::Wilson),
    ];
    for row in reference["values"]["proportion_limits"].as_array().unwrap() {
        for (name, method) in proportions {
            let asked = options(
                target,
                row["p"].as_f64().unwrap(),
                method,
                Widening::Nothing,
            );
            assert_all_near(
                &values(&proportion_funnel(&n, &asked)),
                &numbers(&row[name]),
                1e-9,
            );
        }
    }
}

#[test]
fn site_overdispersion_agrees_with_r() {
    let reference = case("rates.json", "funnel-sites");
    let (observed, expected) = (
        counts("sites_oe.csv", "observed"),
        column("sites_oe.csv", "expected"),
    );
    let plain = ratio_overdispersion(
        &observed,
        &expected,
        1.0,
        Scale::Plain,
        Winsorising::Nothing,
    )
    .unwrap();
    assert_all_near(&plain.z, &numbers(&reference["values"]["z_pearson"]), 1e-9);
    assert_near(
        plain.phi,
        reference["values"]["phi_pearson"].as_f64().unwrap(),
        1e-9,
    );
    let stabilised = ratio_overdispersion(
        &observed,
        &expected,
        1.0,
        Scale::Stabilised,
        Winsorising::default(),
    )
    .unwrap();
    assert_all_near(
        &stabilised.z,
        &numbers(&reference["values"]["z_sqrt"]),
        1e-9,
    );
    assert_near(
        stabilised.phi,
        reference["values"]["phi_winsorised_sqrt"].as_f64().unwrap(),
        1e-9,
    );
    assert_near(
        stabilised.tau_squared,
        reference["values"]["tau2_additive_sqrt"].as_f64().unwrap(),
        1e-9,
    );
    let widenings = [
        (
            "multiplicative_limits_sqrt",
            Widening::Multiplicative {
                phi: stabilised.phi,
            },
        ),
        (
            "additive_limits_sqrt",
            Widening::Additive {
                tau_squared: stabilised.tau_squared,
            },
        ),
    ];
    for (name, widening) in widenings {
        for row in reference["values"][name].as_array().unwrap() {
            let asked = options(
                1.0,
                row["p"].as_f64().unwrap(),
                FunnelMethod::Stabilised,
                widening,
            );
            assert_all_near(
                &values(&ratio_funnel(&expected, &asked)),
                &numbers(&row["limit"]),
                1e-9,
            );
        }
    }
}

#[test]
fn exact_limits_of_half_at_several_sizes() {
    let at = |n, p| {
        values(&proportion_funnel(
            &[n],
            &options(0.5, p, FunnelMethod::Interpolated, Widening::Nothing),
        ))[0]
    };
    for (n, probability, limit) in [
        (20, 0.025, 0.2558),
        (20, 0.975, 0.6942),
        (20, 0.001, 0.1367),
        (20, 0.999, 0.8133),
        (50, 0.025, 0.3507),
        (50, 0.975, 0.6293),
        (100, 0.025, 0.3968),
        (100, 0.975, 0.5932),
        (100, 0.001, 0.3412),
        (100, 0.999, 0.6488),
        (200, 0.025, 0.4281),
        (200, 0.975, 0.5669),
    ] {
        assert_near(at(n, probability), limit, 5e-5);
    }
    let normal = |p| {
        values(&proportion_funnel(
            &[20],
            &options(0.5, p, FunnelMethod::Normal, Widening::Nothing),
        ))[0]
    };
    assert_near(normal(0.025), 0.2809, 5e-5);
    assert_near(normal(0.975), 0.7191, 5e-5);
}

#[test]
fn exact_limits_of_observed_over_expected() {
    let at = |e, p| {
        values(&ratio_funnel(
            &[e],
            &options(1.0, p, FunnelMethod::Interpolated, Widening::Nothing),
        ))[0]
    };
    for (expected, probability, limit) in [
        (5.0, 0.025, 0.1084),
        (5.0, 0.975, 1.8753),
        (5.0, 0.999, 2.5543),
        (10.0, 0.025, 0.3775),
        (10.0, 0.975, 1.6160),
        (20.0, 0.025, 0.5603),
        (20.0, 0.975, 1.4373),
    ] {
        assert_near(at(expected, probability), limit, 5e-5);
    }
}

#[test]
fn eight_units_give_phi_and_tau_on_both_scales() {
    let observed = [4, 9, 12, 7, 15, 3, 22, 10];
    let expected = [6.0, 8.0, 10.0, 9.0, 11.0, 5.0, 14.0, 12.0];
    let by_count = Winsorising::Count { share: 0.1 };
    let stabilised =
        ratio_overdispersion(&observed, &expected, 1.0, Scale::Stabilised, by_count).unwrap();
    let plain = ratio_overdispersion(&observed, &expected, 1.0, Scale::Plain, by_count).unwrap();
    assert_near(stabilised.phi, 1.00144, 5e-6);
    assert_near(plain.phi, 1.09943, 5e-6);
    assert_near(plain.tau_squared, 0.02772, 5e-6);
    assert_eq!(plain.z, plain.z_winsorised);
    assert!(!plain.is_overdispersed);
    assert_eq!(plain.multiplicative(), Widening::Nothing);
}

#[test]
fn spread_beyond_chance_is_flagged_and_widens() {
    let n = [100; 10];
    let events = [40, 60, 41, 59, 40, 60, 50, 50, 39, 61];
    let spread =
        proportion_overdispersion(&events, &n, 0.5, Scale::Stabilised, Winsorising::default())
            .unwrap();
    assert!(spread.is_overdispersed && spread.tau_squared > 0.0);
    let width = |widening| {
        let at = |p| {
            values(&proportion_funnel(
                &[100],
                &options(0.5, p, FunnelMethod::Interpolated, widening),
            ))[0]
        };
        at(0.975) - at(0.025)
    };
    let chance = width(Widening::Nothing);
    assert_near(
        width(spread.multiplicative()),
        chance * spread.phi.sqrt(),
        1e-12,
    );
    assert!(width(spread.additive()) > chance);
    assert_near(width(Widening::Multiplicative { phi: 0.2 }), chance, 1e-15);
}

#[test]
fn equal_chances_give_the_binomial_funnel_over_the_chance() {
    for method in [
        FunnelMethod::Quantile,
        FunnelMethod::Interpolated,
        FunnelMethod::Normal,
    ] {
        for probability in [0.001, 0.025, 0.975, 0.999] {
            let predicted = values(&predicted_funnel(&[vec![0.4; 35]], &[probability], method))[0];
            let binomial = values(&proportion_funnel(
                &[35],
                &options(0.4, probability, method, Widening::Nothing),
            ))[0];
            assert_near(predicted, binomial / 0.4, 1e-10);
        }
    }
}

#[test]
fn predicted_limits_agree_with_scipy() {
    let reference = case("counts_scipy.json", "poisson-binomial-40");
    let (chances, mass) = (
        numbers(&reference["values"]["chances"]),
        numbers(&reference["values"]["pmf"]),
    );
    let expected: f64 = chances.iter().sum();
    for (name, probability) in [("q025", 0.025), ("q975", 0.975)] {
        let count = reference["values"][name].as_f64().unwrap();
        let below: f64 = mass[..=count as usize].iter().sum();
        let moved = count - (below - probability) / mass[count as usize];
        let at = |method| {
            values(&predicted_funnel(
                std::slice::from_ref(&chances),
                &[probability],
                method,
            ))[0]
        };
        assert_near(at(FunnelMethod::Quantile), count / expected, 1e-12);
        assert_near(at(FunnelMethod::Interpolated), moved / expected, 1e-9);
    }
}

#[test]
fn impossible_sizes_and_targets_are_not_estimable() {
    let asked = |target, p| options(target, p, FunnelMethod::Interpolated, Widening::Nothing);
    for (expected, target, p) in [
        (0.0, 1.0, 0.025),
        (f64::NAN, 1.0, 0.025),
        (5.0, 0.0, 0.025),
        (5.0, 1.0, 1.0),
        (f64::INFINITY, 1.0, 0.5),
    ] {
        assert_eq!(
            ratio_funnel(&[expected], &asked(target, p))[0].limits[0].value,
            None
        );
    }
    for (n, target, p) in [
        (0, 0.5, 0.025),
        (10, 0.0, 0.025),
        (10, 1.0, 0.025),
        (10, 0.5, 0.0),
    ] {
        assert_eq!(
            proportion_funnel(&[n], &asked(target, p))[0].limits[0].value,
            None
        );
    }
    for chances in [vec![], vec![0.0], vec![0.5, f64::NAN]] {
        assert_eq!(
            predicted_funnel(&[chances], &[0.025], FunnelMethod::Quantile)[0].limits[0].value,
            None
        );
    }
    assert_eq!(
        ratio_overdispersion(&[1], &[], 1.0, Scale::Plain, Winsorising::Nothing),
        None
    );
    assert_eq!(
        ratio_overdispersion(&[], &[], 1.0, Scale::Plain, Winsorising::Nothing),
        None
    );
    assert_eq!(
        proportion_overdispersion(&[3], &[2], 0.5, Scale::Plain, Winsorising::Nothing),
        None
    );
}
