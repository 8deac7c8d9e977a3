//! What an accelerated failure time fit predicts, and its reading as proportional hazards.

use serde::Serialize;

use crate::SurvivalError;
use crate::distribution::normal_multiplier;
use crate::interval::error_law::Distribution;
use crate::interval::regression::IntervalRegressionFit;
use crate::regression::Estimability;

/// A time by which a share of the rows with one profile have had the event.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PredictedQuantile {
    /// The share.
    pub probability: f64,
    /// The time.
    pub estimate: f64,
    /// Its standard error, robust where the fit is.
    pub std_error: f64,
    /// Lower limit, from limits of the log time.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// The proportional hazards reading of a Weibull model: hazard = shape/scale^shape t^(shape-1) exp(sum of log hazard ratios).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeibullHazard {
    /// 1/scale of the log time.
    pub shape: f64,
    /// exp(intercept): the time by which 63% have had the event with every covariate 0.
    pub characteristic_time: f64,
    /// Log hazard ratio for one unit of each covariate, minus the coefficient over the scale; `None` where not estimable.
    pub log_hazard_ratios: Vec<Option<f64>>,
}

impl IntervalRegressionFit {
    /// The Weibull (or exponential) model as a proportional hazards model; `None` for log-normal.
    pub fn weibull_hazard(&self) -> Option<WeibullHazard> {
        if self.options.distribution == Distribution::LogNormal {
            return None;
        }
        let intercept = self.terms.first()?.estimate?;
        let n_terms = self.terms.len() - 1 - usize::from(self.options.distribution.has_scale());
        Some(WeibullHazard {
            shape: 1.0 / self.scale,
            characteristic_time: intercept.exp(),
            log_hazard_ratios: self.terms[1..=n_terms]
                .iter()
                .map(|term| term.estimate.map(|estimate| -estimate / self.scale))
                .collect(),
        })
    }

    /// Time by which a share `probability` of rows with this profile have had the event; redundant columns take no part.
    ///
    /// # Errors
    /// A probability outside (0, 1), a profile of another length, separation.
    pub fn quantile(
        &self,
        profile: &[f64],
        probability: f64,
    ) -> Result<PredictedQuantile, SurvivalError> {
        let has_scale = self.options.distribution.has_scale();
        let n_terms = self.terms.len() - 1 - usize::from(has_scale);
        if profile.len() != n_terms {
            return Err(SurvivalError::UnequalProfile {
                n_expected: n_terms,
                n_found: profile.len(),
            });
        }
        let Some(z) = self.options.distribution.quantile(probability) else {
            return Err(SurvivalError::SettingOutOfRange {
                setting: "probability",
                rule: "must lie between 0 and 1, both excluded",
            });
        };
        if self.terms.iter().any(|term| {
            matches!(
                term.estimability,
                Estimability::GrowsWithoutBound | Estimability::FallsWithoutBound
            )
        }) {
            return Err(SurvivalError::NoFiniteEstimate);
        }
        let mut slopes = vec![1.0];
        slopes.extend(profile);
        let log_time = self.scale * z
            + self
                .terms
                .iter()
                .zip(&slopes)
                .map(|(term, slope)| term.estimate.unwrap_or(0.0) * slope)
                .sum::<f64>();
        if has_scale {
            slopes.push(self.scale * z);
        }
        let rows = &self
            .robust_covariance
            .as_ref()
            .unwrap_or(&self.covariance)
            .rows;
        let variance: f64 = rows
            .iter()
            .zip(&slopes)
            .map(|(row, slope)| {
                slope
                    * row
                        .iter()
                        .zip(&slopes)
                        .map(|(cell, slope)| cell * slope)
                        .sum::<f64>()
            })
            .sum();
        let std_error = variance.max(0.0).sqrt();
        let reach = normal_multiplier(self.options.level).map(|multiplier| multiplier * std_error);
        Ok(PredictedQuantile {
            probability,
            estimate: log_time.exp(),
            std_error: log_time.exp() * std_error,
            lower: reach.map(|reach| (log_time - reach).exp()),
            upper: reach.map(|reach| (log_time + reach).exp()),
        })
    }
}
