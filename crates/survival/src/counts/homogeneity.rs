//! Whether several observed/expected ratios share one value.

use serde::Serialize;

use crate::distribution::{Tail, chi_squared_probability};

/// Test that several observed/expected ratios are equal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Homogeneity {
    /// Sum of the observed events.
    pub observed: f64,
    /// Sum of the expected events.
    pub expected: f64,
    /// Sum of (O - E r)^2 / (E r), r being the common ratio.
    pub statistic: f64,
    /// Units less one.
    pub df: usize,
    /// Upper tail of the chi-square law.
    pub p_value: f64,
}

/// Chi-square test that the ratios of `observed` to `expected` counts are equal.
///
/// The chi-square law needs expected counts of about 5. `None` when the lengths differ, there are fewer than two units,
/// no event was seen, or an expected count is not above 0.
/// Source: Breslow and Day, Statistical Methods in Cancer Research II, 1987, chapter 3.
pub fn homogeneity(observed: &[u64], expected: &[f64]) -> Option<Homogeneity> {
    let is_usable = observed.len() == expected.len()
        && observed.len() > 1
        && expected
            .iter()
            .all(|expected| expected.is_finite() && *expected > 0.0);
    if !is_usable {
        return None;
    }
    let total_observed: f64 = observed.iter().map(|count| *count as f64).sum();
    let total_expected: f64 = expected.iter().sum();
    if total_observed == 0.0 || !total_expected.is_finite() {
        return None;
    }
    let common = total_observed / total_expected;
    let statistic: f64 = observed
        .iter()
        .zip(expected)
        .map(|(observed, expected)| {
            (*observed as f64 - expected * common).powi(2) / (expected * common)
        })
        .sum();
    let df = observed.len() - 1;
    Some(Homogeneity {
        observed: total_observed,
        expected: total_expected,
        statistic,
        df,
        p_value: chi_squared_probability(statistic, Tail::Upper, df as f64)?,
    })
}
