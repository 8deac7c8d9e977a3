//! Distributions against scipy 1.x values and the vectors of the handbooks.

use survival::{poisson_exact, wilson};

/// Newcombe, Stat Med 1998;17:857, table I (method 3).
#[test]
fn wilson_limits_are_the_published_ones() {
    for (n_events, n, lower, upper) in [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (10, 10, 0.7225, 1.0),
    ] {
        let found = wilson(n_events, n, 0.95).unwrap();
        assert!(
            (found.lower - lower).abs() < 5e-5,
            "{n_events}/{n}: {found:?}"
        );
        assert!(
            (found.upper - upper).abs() < 5e-5,
            "{n_events}/{n}: {found:?}"
        );
    }
}

/// Garwood, Biometrika 1936;28:437; the printed four decimals are those of any exact table.
#[test]
fn exact_poisson_limits_are_the_tabulated_ones() {
    for (n_events, lower, upper) in [
        (0, 0.0, 3.6889),
        (1, 0.0253, 5.5716),
        (3, 0.6187, 8.7673),
        (10, 4.7954, 18.3904),
        (100, 81.3640, 121.6268),
    ] {
        let found = poisson_exact(n_events, 0.95).unwrap();
        assert!((found.lower - lower).abs() < 5e-5, "{n_events}: {found:?}");
        assert!((found.upper - upper).abs() < 5e-5, "{n_events}: {found:?}");
    }
}

#[test]
fn counts_without_a_denominator_or_a_level_have_no_limits() {
    assert_eq!(wilson(0, 0, 0.95), None);
    assert_eq!(wilson(3, 2, 0.95), None);
    assert_eq!(wilson(1, 2, 1.0), None);
    assert_eq!(wilson(1, 2, f64::NAN), None);
    assert_eq!(poisson_exact(1, 0.0), None);
}

use survival::distribution::{
    Tail, beta_probability, beta_quantile, binomial_mass, binomial_probability,
    chi_squared_probability, chi_squared_quantile, gamma_probability, gamma_quantile,
    normal_multiplier, normal_probability, normal_quantile, poisson_mass, poisson_probability,
};

/// Relative agreement with values of mpmath (40 digits) and scipy 1.17.
#[test]
fn probabilities_and_quantiles_keep_their_digits_in_both_tails() {
    use Tail::{Lower, Upper};
    for (name, found, expected, tolerance) in [
        (
            "normal .975",
            normal_quantile(0.975),
            1.959_963_984_540_054_2,
            1e-15,
        ),
        (
            "normal .001",
            normal_quantile(0.001),
            -3.090_232_306_167_813_5,
            1e-14,
        ),
        (
            "normal 1e-12",
            normal_quantile(1e-12),
            -7.034_483_825_301_132,
            1e-14,
        ),
        (
            "multiplier",
            normal_multiplier(0.95),
            1.959_963_984_540_054_2,
            1e-14,
        ),
        (
            "normal > 10",
            Some(normal_probability(10.0, Upper)),
            7.619_853_024_160_526e-24,
            1e-13,
        ),
        (
            "normal > 37",
            Some(normal_probability(37.0, Upper)),
            5.725_571_222_524_577e-300,
            1e-12,
        ),
        (
            "chi 3.84",
            chi_squared_probability(3.84, Upper, 1.0),
            0.050_043_521_248_705_1,
            1e-13,
        ),
        (
            "chi 100",
            chi_squared_probability(100.0, Upper, 3.0),
            1.554_159_431_389_605e-21,
            1e-12,
        ),
        (
            "chi 1000",
            chi_squared_probability(1000.0, Upper, 5.0),
            6.010_077_687_920_804e-214,
            1e-11,
        ),
        (
            "chi .001",
            chi_squared_probability(0.001, Upper, 1.0),
            0.974_772_879_369_960_4,
            1e-13,
        ),
        (
            "chi quantile",
            chi_squared_quantile(0.050_043_521_248_705_1, Upper, 1.0),
            3.84,
            1e-13,
        ),
        (
            "gamma 1e-10",
            gamma_quantile(1e-10, Lower, 3.0),
            8.436_105_624_847_274e-4,
            1e-13,
        ),
        (
            "gamma .025",
            gamma_quantile(0.025, Lower, 10.0),
            4.795_388_696_132_434,
            1e-13,
        ),
        (
            "gamma 1e-30",
            gamma_quantile(1e-30, Lower, 2.0),
            1.414_213_562_373_095_7e-15,
            1e-13,
        ),
        (
            "gamma large",
            gamma_quantile(0.5, Lower, 1e5),
            99_999.666_666_864_2,
            1e-11,
        ),
        (
            "gamma larger",
            gamma_quantile(0.025, Lower, 1e6),
            998_040.983_340_293_9,
            1e-10,
        ),
        (
            "beta .3",
            beta_probability(0.3, Lower, 2.0, 3.0),
            0.3483,
            1e-13,
        ),
        (
            "beta 1e-8",
            beta_probability(1e-8, Lower, 0.5, 0.5),
            6.366_197_734_286_143e-5,
            1e-13,
        ),
        (
            "beta 1e-19",
            beta_probability(0.1, Lower, 20.0, 2.0),
            1.9e-19,
            1e-12,
        ),
        (
            "beta large",
            beta_probability(0.501, Lower, 5e4, 5e4),
            0.736_455_061_702_955_2,
            1e-9,
        ),
        (
            "beta quantile",
            beta_quantile(0.025, Lower, 3.0, 8.0),
            0.066_739_511_177_734_47,
            1e-13,
        ),
        (
            "beta 1e-9",
            beta_quantile(1e-9, Lower, 4.0, 5.0),
            0.001_947_163_703_174_261_6,
            1e-13,
        ),
        (
            "beta upper",
            beta_quantile(0.025, Upper, 1e5, 1e5),
            0.502_191_298_568_307_9,
            1e-10,
        ),
        (
            "binomial",
            binomial_probability(3, Lower, 10, 0.2),
            0.879_126_118_4,
            1e-13,
        ),
        (
            "binomial tail",
            binomial_probability(9000, Upper, 10_000, 0.89),
            0.000_572_142_503_924_166_4,
            1e-9,
        ),
        (
            "binomial mass",
            binomial_mass(3, 10, 0.2),
            0.201_326_592,
            1e-13,
        ),
        (
            "Poisson",
            poisson_probability(3, Lower, 2.5),
            0.757_576_133_133_066_2,
            1e-13,
        ),
        (
            "Poisson tail",
            poisson_probability(3, Upper, 2.5),
            0.242_423_866_866_933_9,
            1e-13,
        ),
        (
            "Poisson mass",
            poisson_mass(3, 2.5),
            0.213_763_017_249_736_48,
            1e-13,
        ),
    ] {
        let found = found.unwrap();
        assert!(
            (found / expected - 1.0).abs() < tolerance,
            "{name}: {found:e}, not {expected:e}"
        );
    }
}

#[test]
fn arguments_outside_their_range_have_no_answer() {
    assert_eq!(normal_quantile(0.0), None);
    assert_eq!(normal_quantile(f64::NAN), None);
    assert_eq!(gamma_quantile(0.5, Tail::Lower, -1.0), None);
    assert_eq!(gamma_quantile(1.5, Tail::Lower, 1.0), None);
    assert_eq!(gamma_quantile(0.5, Tail::Lower, 1e300), None);
    assert_eq!(gamma_probability(f64::NAN, Tail::Lower, 1.0), None);
    assert_eq!(gamma_probability(-1.0, Tail::Upper, 1.0), Some(1.0));
    assert_eq!(
        gamma_probability(f64::INFINITY, Tail::Upper, 1.0),
        Some(0.0)
    );
    assert_eq!(beta_quantile(0.5, Tail::Lower, 0.0, 1.0), None);
    assert_eq!(beta_probability(1.5, Tail::Lower, 1.0, 1.0), None);
    assert_eq!(binomial_probability(1, Tail::Lower, 2, f64::NAN), None);
    assert_eq!(binomial_probability(5, Tail::Upper, 3, 0.5), Some(0.0));
    assert_eq!(poisson_probability(0, Tail::Lower, 0.0), Some(1.0));
    assert_eq!(poisson_probability(0, Tail::Lower, f64::NAN), None);
}
