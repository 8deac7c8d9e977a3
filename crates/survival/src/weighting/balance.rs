//! How alike two groups are in a covariate, before and after weighting.

use serde::{Deserialize, Serialize};

use crate::SurvivalError;
use crate::counts::{check_amounts, check_finite};
use crate::sample::check_length;

/// What a covariate is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CovariateKind {
    /// A measurement: spread by the sample variances (divisor n - 1).
    #[default]
    Mean,
    /// 0 or 1: spread by p (1 - p).
    Proportion,
}

/// One covariate compared between two groups.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Balance {
    /// Unweighted mean of the treated.
    pub mean_treated: f64,
    /// Unweighted mean of the others.
    pub mean_untreated: f64,
    /// Weighted mean of the treated; `None` when their weights are all 0.
    pub weighted_mean_treated: Option<f64>,
    /// Weighted mean of the others; `None` when their weights are all 0.
    pub weighted_mean_untreated: Option<f64>,
    /// Difference of the unweighted means over the pooled standard deviation; `None` when neither group varies.
    pub difference: Option<f64>,
    /// Difference of the weighted means over the same, unweighted, standard deviation.
    pub weighted_difference: Option<f64>,
    /// What the covariate is.
    pub kind: CovariateKind,
}

/// Standardised difference (treated minus others) of a covariate, unweighted and weighted.
///
/// The denominator sqrt((v1 + v0) / 2) comes from the unweighted groups in both, so that the two can be compared. In
/// standard deviations; below 0.1 in size is often called balanced (common practice, no source).
///
/// # Errors
/// Lengths that differ, a value or weight that is not finite, a negative weight, a proportion other than 0 or 1, or a
/// group with fewer than two rows.
///
/// Source: Austin, Stat Med 2009;28:3083-3107; Austin and Stuart, Stat Med 2015;34:3661-3679.
pub fn standardised_difference(
    values: &[f64],
    is_treated: &[bool],
    weights: &[f64],
    kind: CovariateKind,
) -> Result<Balance, SurvivalError> {
    check_length("treated", is_treated.len(), values.len())?;
    check_length("weight", weights.len(), values.len())?;
    check_finite("covariate", values)?;
    check_amounts("weight", weights)?;
    if kind == CovariateKind::Proportion
        && let Some(index) = values
            .iter()
            .position(|value| *value != 0.0 && *value != 1.0)
    {
        return Err(SurvivalError::NotAProbability {
            column: "covariate",
            row: index + 1,
        });
    }
    let treated = moments(values, is_treated, weights, true, kind)?;
    let others = moments(values, is_treated, weights, false, kind)?;
    let spread = ((treated.variance + others.variance) / 2.0).sqrt();
    let standardised = |difference: f64| (spread > 0.0).then(|| difference / spread);
    Ok(Balance {
        mean_treated: treated.mean,
        mean_untreated: others.mean,
        weighted_mean_treated: treated.weighted_mean,
        weighted_mean_untreated: others.weighted_mean,
        difference: standardised(treated.mean - others.mean),
        weighted_difference: treated
            .weighted_mean
            .zip(others.weighted_mean)
            .and_then(|(treated, others)| standardised(treated - others)),
        kind,
    })
}

struct Moments {
    mean: f64,
    variance: f64,
    weighted_mean: Option<f64>,
}

fn moments(
    values: &[f64],
    is_treated: &[bool],
    weights: &[f64],
    wanted: bool,
    kind: CovariateKind,
) -> Result<Moments, SurvivalError> {
    let own: Vec<Weighted> = values
        .iter()
        .zip(weights)
        .zip(is_treated)
        .filter(|(_, treated)| **treated == wanted)
        .map(|((value, weight), _)| Weighted {
            value: *value,
            weight: *weight,
        })
        .collect();
    if own.len() < 2 {
        return Err(SurvivalError::TooFewValues {
            n_found: own.len(),
            n_needed: 2,
        });
    }
    let n = own.len() as f64;
    let mean = own.iter().map(|row| row.value).sum::<f64>() / n;
    let variance = match kind {
        CovariateKind::Mean => {
            own.iter()
                .map(|row| (row.value - mean).powi(2))
                .sum::<f64>()
                / (n - 1.0)
        }
        CovariateKind::Proportion => mean * (1.0 - mean),
    };
    let sum_of_weights: f64 = own.iter().map(|row| row.weight).sum();
    let weighted_sum: f64 = own.iter().map(|row| row.weight * row.value).sum();
    let weighted_mean = (sum_of_weights > 0.0).then(|| weighted_sum / sum_of_weights);
    Ok(Moments {
        mean,
        variance,
        weighted_mean,
    })
}

struct Weighted {
    value: f64,
    weight: f64,
}
