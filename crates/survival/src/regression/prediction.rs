//! How good predicted probabilities are: calibration and discrimination.

use serde::Serialize;

use crate::regression::concordance::{Concordance, TimeWeight, concordance};
use crate::regression::logistic::{fit_with_offset, logistic};
use crate::regression::{BinaryOutcomes, Covariate, Covariates, LogisticOptions, Term};
use crate::sample::check_length;
use crate::{Sample, SurvivalError};

/// Agreement of predicted probabilities with outcomes (Cox, Biometrika 1958;45:562-565; Steyerberg, Clinical Prediction Models,
/// 2nd ed. 2019, section 15.3).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Calibration {
    /// Rows of positive weight.
    pub n: usize,
    /// Weighted number with the outcome.
    pub observed: f64,
    /// Weighted sum of the predictions.
    pub expected: f64,
    /// Log odds by which the outcome is more common than predicted, the slope held at 1; 0 is calibrated in the large.
    pub in_the_large: Term,
    /// Intercept of the outcome on the logit of the prediction.
    pub intercept: Term,
    /// Slope on the logit of the prediction; 1 is calibrated, below 1 predictions are too extreme.
    pub slope: Term,
    /// Weighted mean squared difference between prediction and outcome (Brier, Monthly Weather Review 1950;78:1-3), 0 is best.
    pub brier_score: f64,
}

/// Calibration of predictions made elsewhere. For predictions fitted to the same rows it is perfect by construction.
///
/// # Errors
/// Columns of unequal length, a prediction that does not lie between 0 and 1 (both excluded), rows that all have or all lack
/// the outcome, a level outside (0, 1), a likelihood that does not settle.
pub fn calibration(
    outcomes: &BinaryOutcomes,
    predicted: &[f64],
    level: f64,
) -> Result<Calibration, SurvivalError> {
    check_length("predicted", predicted.len(), outcomes.len())?;
    if let Some(index) = predicted
        .iter()
        .position(|&probability| !(probability > 0.0 && probability < 1.0))
    {
        return Err(SurvivalError::NotAProbability {
            column: "predicted",
            row: index + 1,
        });
    }
    let options = LogisticOptions {
        level,
        ..LogisticOptions::default()
    };
    let logits: Vec<f64> = predicted
        .iter()
        .map(|&probability| probability.ln() - (-probability).ln_1p())
        .collect();
    let none = Covariates::new(outcomes.len(), Vec::new())?;
    let shifted = fit_with_offset(outcomes, &none, Some(&logits), &options)?;
    let column = Covariate {
        name: "logit of the prediction".to_owned(),
        values: logits,
    };
    let sloped = logistic(
        outcomes,
        &Covariates::new(outcomes.len(), vec![column])?,
        &options,
    )?;
    let total: f64 = (0..outcomes.len()).map(|row| outcomes.weight_of(row)).sum();
    let observed_at = |row: usize| f64::from(u8::from(outcomes.has_outcome()[row]));
    let weighted = |value: &dyn Fn(usize) -> f64| -> f64 {
        (0..outcomes.len())
            .map(|row| outcomes.weight_of(row) * value(row))
            .sum()
    };
    let mut sloped_terms = sloped.terms.into_iter();
    let mut shifted_terms = shifted.terms.into_iter();
    match (
        shifted_terms.next(),
        sloped_terms.next(),
        sloped_terms.next(),
    ) {
        (Some(in_the_large), Some(intercept), Some(slope)) => Ok(Calibration {
            n: shifted.n,
            observed: weighted(&observed_at),
            expected: weighted(&|row| predicted[row]),
            in_the_large,
            intercept,
            slope,
            brier_score: weighted(&|row| (predicted[row] - observed_at(row)).powi(2)) / total,
        }),
        _ => Err(SurvivalError::NoRows),
    }
}

/// The c statistic, or area under the receiver operating characteristic: the chance that a row with the outcome has a higher
/// score than one without, equal scores counting half (Hanley and McNeil, Radiology 1982;143:29-36). In O(n log n), with the
/// infinitesimal jackknife error, summed within clusters. `None` unless there are rows of both kinds.
///
/// # Errors
/// A score of another length or not finite.
pub fn c_statistic(
    outcomes: &BinaryOutcomes,
    score: &[f64],
) -> Result<Option<Concordance>, SurvivalError> {
    if !outcomes.has_outcome().contains(&true) {
        return Ok(None);
    }
    // the outcome as an event at one time at which all others are censored: just the pairs of unlike rows are comparable
    let cause = outcomes
        .has_outcome()
        .iter()
        .map(|&has_outcome| u32::from(has_outcome))
        .collect();
    let mut sample = Sample::new(vec![1.0; outcomes.len()], cause)?;
    if let Some(weight) = outcomes.weight() {
        sample = sample.with_weight(weight.to_vec())?;
    }
    if let Some(cluster) = outcomes.cluster() {
        sample = sample.with_cluster(cluster.to_vec())?;
    }
    match concordance(&sample, score, None, TimeWeight::AtRisk) {
        Err(SurvivalError::NoEvents) => Ok(None),
        other => other,
    }
}
