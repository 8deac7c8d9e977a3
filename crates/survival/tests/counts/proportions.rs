//! Proportions: R prop.test and qbeta, epitools, scipy; Newcombe 1998.

use super::support::{assert_all_near, assert_near, case, numbers};
use survival::counts::{ConfidenceLimits, ProportionLimits, clopper_pearson, proportion, wilson};

const KINDS: [(&str, ProportionLimits); 5] = [
    ("wilson", ProportionLimits::Wilson),
    ("clopper_pearson", ProportionLimits::Exact),
    ("agresti_coull", ProportionLimits::AgrestiCoull),
    ("jeffreys", ProportionLimits::Jeffreys),
    ("wald", ProportionLimits::Linear),
];

fn limits_of(case: &serde_json::Value, method: ProportionLimits) -> Vec<ConfidenceLimits> {
    let level = case["options"]["level"].as_f64().unwrap();
    let (events, n) = (
        numbers(&case["columns"]["x"]),
        numbers(&case["columns"]["n"]),
    );
    events
        .iter()
        .zip(&n)
        .map(|(x, n)| {
            proportion(*x as u64, *n as u64, level, method)
                .limits
                .unwrap()
        })
        .collect()
}

#[test]
fn limits_agree_with_r_at_95_and_99_percent() {
    for id in ["prop-95", "prop-99"] {
        let case = case("rates.json", id);
        for (name, method) in KINDS {
            let limits = limits_of(&case, method);
            let expected = &case["values"][name];
            let (lower, upper): (Vec<f64>, Vec<f64>) = limits
                .iter()
                .map(|limits| (limits.lower, limits.upper))
                .unzip();
            assert_all_near(&lower, &numbers(&expected["lower"]), 1e-9);
            assert_all_near(&upper, &numbers(&expected["upper"]), 1e-9);
        }
    }
}

#[test]
fn continuity_corrected_limits_agree_with_r_away_from_one_half() {
    // prop.test shrinks its correction to nothing where the share is exactly one half; Newcombe's formula does not.
    for id in ["prop-95", "prop-99"] {
        let case = case("rates.json", id);
        let shares = numbers(&case["values"]["estimate"]);
        let expected = &case["values"]["wilson_continuity"];
        let limits = limits_of(&case, ProportionLimits::WilsonContinuity);
        for (place, limits) in limits
            .iter()
            .enumerate()
            .filter(|(place, _)| shares[*place] != 0.5)
        {
            assert_near(limits.lower, numbers(&expected["lower"])[place], 1e-9);
            assert_near(limits.upper, numbers(&expected["upper"])[place], 1e-9);
        }
    }
}

#[test]
fn newcombe_1998_example_81_of_263_by_four_methods() {
    // Newcombe, Stat Med 1998;17:857-872, table I.
    for (method, lower, upper) in [
        (ProportionLimits::Linear, 0.2522, 0.3638),
        (ProportionLimits::Wilson, 0.2553, 0.3662),
        (ProportionLimits::WilsonContinuity, 0.2535, 0.3682),
        (ProportionLimits::Exact, 0.2527, 0.3676),
        (ProportionLimits::MidP, 0.2544, 0.3658),
    ] {
        let limits = proportion(81, 263, 0.95, method).limits.unwrap();
        assert_near(limits.lower, lower, 5e-5);
        assert_near(limits.upper, upper, 5e-5);
    }
}

#[test]
fn wilson_limits_of_small_denominators() {
    for (events, n, lower, upper) in [
        (0, 10, 0.0, 0.2775),
        (1, 10, 0.0179, 0.4042),
        (5, 10, 0.2366, 0.7634),
        (10, 10, 0.7225, 1.0),
        (7, 20, 0.1812, 0.5671),
        (15, 20, 0.5313, 0.8881),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (15, 148, 0.0624, 0.1605),
    ] {
        let limits = wilson(events, n, 0.95).unwrap();
        assert_near(limits.lower, lower, 5e-5);
        assert_near(limits.upper, upper, 5e-5);
    }
}

#[test]
fn mid_p_limits_agree_with_scipy() {
    for row in case("counts_scipy.json", "binomial-mid-p")["values"]
        .as_array()
        .unwrap()
    {
        let (events, n) = (
            row["n_events"].as_u64().unwrap(),
            row["n"].as_u64().unwrap(),
        );
        let limits = proportion(
            events,
            n,
            row["level"].as_f64().unwrap(),
            ProportionLimits::MidP,
        )
        .limits
        .unwrap();
        assert_near(limits.lower, row["lower"].as_f64().unwrap(), 1e-10);
        assert_near(limits.upper, row["upper"].as_f64().unwrap(), 1e-10);
    }
}

#[test]
fn empty_or_impossible_denominator_is_not_estimable() {
    for method in [
        ProportionLimits::Wilson,
        ProportionLimits::Exact,
        ProportionLimits::MidP,
        ProportionLimits::Jeffreys,
    ] {
        for (events, n) in [(0, 0), (3, 2), (u64::MAX, 0)] {
            let result = proportion(events, n, 0.95, method);
            assert_eq!((result.estimate, result.limits), (None, None));
        }
        for level in [0.0, 1.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(proportion(1, 2, level, method).limits, None);
        }
    }
}

#[test]
fn no_events_of_n_has_the_closed_form_upper_limit() {
    // (1 - upper)^n = 0.025.
    for n in [1_u64, 7, 100, 5000] {
        let limits = clopper_pearson(0, n, 0.95).unwrap();
        assert_eq!(limits.lower, 0.0);
        assert_near(limits.upper, 1.0 - 0.025_f64.powf(1.0 / n as f64), 1e-12);
    }
}
