//! How many equally weighted rows a weighted sample is worth.

use serde::Serialize;

/// Size of a weighted sample.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EffectiveSize {
    /// Rows.
    pub n: usize,
    /// Sum of the weights.
    pub sum_of_weights: f64,
    /// (sum of weights)^2 / sum of squared weights, 1 to n; `None` when all weights are 0 or there is no row.
    pub effective: Option<f64>,
}

/// Kish's effective size of rows with these weights; equal weights give the number of rows.
///
/// `effective` is `None` too when a weight is negative or not finite.
/// Source: Kish, Survey Sampling, 1965, section 11.7.
pub fn effective_size(weights: &[f64]) -> EffectiveSize {
    let largest = weights.iter().copied().fold(0.0, f64::max);
    let is_usable = largest > 0.0
        && weights
            .iter()
            .all(|weight| weight.is_finite() && *weight >= 0.0);
    // Divided by the largest, squares neither overflow nor vanish.
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |(sum, squares), weight| {
        let share = weight / largest;
        (sum + share, squares + share * share)
    });
    EffectiveSize {
        n: weights.len(),
        sum_of_weights: weights.iter().sum(),
        effective: is_usable.then(|| sum * sum / squares),
    }
}
