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
