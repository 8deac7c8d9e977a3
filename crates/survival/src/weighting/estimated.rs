//! Contrasts whose standard errors know that the propensity was estimated from the same rows.

use super::contrast::{Arm, Contrast, Target, WeightUncertainty, arms, contrast};
use super::{PropensityWeights, WeightOptions, propensity_weights};
use crate::regression::{Cholesky, Covariates, SquareMatrix, Standardised};
use crate::sample::check_length;
use crate::{Sample, SurvivalError};

/// A logistic model of treatment, as fitted by maximum likelihood to the rows it is used on
/// (see [`crate::regression::logistic`], whose `fitted` are the chances).
#[derive(Debug, Clone, Copy)]
pub struct PropensityModel<'a> {
    /// The model's covariates, without the intercept.
    pub covariates: &'a Covariates,
    /// Fitted chance of treatment of each row.
    pub propensity: &'a [f64],
}

/// Pivots below this share of their diagonal mark a repeated covariate.
const REDUNDANT: f64 = 1e-10;

/// Compares the treated with the others under propensity weights from `model`, carrying the model's uncertainty along.
///
/// The influence of a row on the estimate is the one it has with known weights plus the one it has through the model's
/// coefficients: derivative of the estimate by the coefficients, times inverse information, times the row's score. For the
/// average effect this is usually smaller than with known weights. Weights that were pulled in by truncation are taken as
/// fixed; the model is taken as fitted without case weights. A covariate that repeats others is passed over.
/// `Ok(None)`: not estimable, the target lying past the last observation of a group.
///
/// # Errors
/// As [`propensity_weights`] and [`super::weighted_contrast`], and covariates with another number of rows.
///
/// Source: Lunceford and Davidian, Stat Med 2004;23:2937-2960, section 3.1;
/// Stefanski and Boos, Am Stat 2002;56:29-38 (stacked equations).
pub fn weighted_contrast_of_model(
    sample: &Sample,
    is_treated: &[bool],
    model: &PropensityModel<'_>,
    options: &WeightOptions,
    target: Target,
    level: f64,
) -> Result<Option<Contrast>, SurvivalError> {
    check_length("covariates", model.covariates.n_rows(), sample.len())?;
    let weights = propensity_weights(is_treated, model.propensity, options)?;
    let Some(arms) = arms(sample, is_treated, &weights, target)? else {
        return Ok(None);
    };
    let fit = Fit::new(is_treated, model);
    let influence = |arm: &Arm| fit.influence(arm, &weights);
    let uncertainty = WeightUncertainty::Estimated;
    contrast(
        &arms,
        sample.cluster(),
        influence,
        target,
        uncertainty,
        level,
    )
    .map(Some)
}

/// The design, scores and information of the logistic model.
struct Fit {
    /// Standardised rows with a leading 1.
    rows: Vec<Vec<f64>>,
    /// Treated (1 or 0) minus the chance.
    residuals: Vec<f64>,
    information: Cholesky,
}

impl Fit {
    fn new(is_treated: &[bool], model: &PropensityModel<'_>) -> Fit {
        let order: Vec<u32> = (0..is_treated.len() as u32).collect();
        let standardised = Standardised::of(model.covariates, &order, None);
        let with_intercept = |position: usize| {
            let mut row = vec![1.0];
            row.extend_from_slice(standardised.row(position));
            row
        };
        let rows: Vec<Vec<f64>> = (0..is_treated.len()).map(with_intercept).collect();
        let mut information = SquareMatrix::zero(standardised.n_terms + 1);
        for (row, chance) in rows.iter().zip(model.propensity) {
            information.add_outer(chance * (1.0 - chance), row, row);
        }
        let residual = |(treated, chance): (&bool, &f64)| f64::from(u8::from(*treated)) - chance;
        Fit {
            residuals: is_treated
                .iter()
                .zip(model.propensity)
                .map(residual)
                .collect(),
            information: Cholesky::of(&information, REDUNDANT, &[]),
            rows,
        }
    }

    fn influence(&self, arm: &Arm, weights: &PropensityWeights) -> Vec<f64> {
        let n_terms = self.rows.first().map_or(0, Vec::len);
        let mut by_coefficient = vec![0.0; n_terms];
        for ((row, change), slope) in self
            .rows
            .iter()
            .zip(&arm.by_propensity_weight)
            .zip(&weights.slopes)
        {
            for (sum, value) in by_coefficient.iter_mut().zip(row) {
                *sum += change * slope * value;
            }
        }
        let direction = self.information.solve(&by_coefficient);
        let through_model = self
            .rows
            .iter()
            .zip(&self.residuals)
            .map(|(row, residual)| {
                residual
                    * row
                        .iter()
                        .zip(&direction)
                        .map(|(value, change)| value * change)
                        .sum::<f64>()
            });
        arm.influence
            .iter()
            .zip(through_model)
            .map(|(own, through_model)| own + through_model)
            .collect()
    }
}
