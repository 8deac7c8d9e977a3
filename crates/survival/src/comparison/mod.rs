//! Tests that groups do not differ.

mod gray;
mod log_rank;
mod strata;
mod weighting;

pub use gray::{GrayOptions, gray_test};
pub use log_rank::{GroupCount, LogRank, LogRankOptions, LogRankVariance, log_rank};
pub use weighting::Weighting;

use crate::distribution::{Tail, chi_squared_probability};
use crate::linear::inverse_form;
use serde::Serialize;

/// A chi-squared test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChiSquaredTest {
    /// The statistic, 0 or more; `None` where the groups give nothing to compare (no event, or one group at risk).
    pub statistic: Option<f64>,
    /// Degrees of freedom: groups that could have differed, less one.
    pub df: usize,
    /// Upper tail probability.
    pub p_value: Option<f64>,
}

impl ChiSquaredTest {
    /// The test of a score against its covariance.
    pub(crate) fn of_score(score: &[f64], covariance: &[Vec<f64>]) -> Self {
        let form = inverse_form(covariance, score);
        let df = form.map_or(0, |form| form.rank);
        Self {
            statistic: form.map(|form| form.value),
            df,
            p_value: form
                .and_then(|form| chi_squared_probability(form.value, Tail::Upper, df as f64)),
        }
    }
}
