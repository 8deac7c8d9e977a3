//! Residuals of a proportional hazards fit.

use serde::Serialize;

use crate::SurvivalError;
use crate::regression::cox::CoxFit;
use crate::regression::cox::influence::{hazard, visit_exposures, weighted_score_residuals};

/// Residuals by input row; a row that is at risk at no time has none.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoxResiduals {
    /// Observed less expected events, at most 1 (Therneau and Grambsch 2000, eq. 4.3).
    pub martingale: Vec<Option<f64>>,
    /// Signed square root of the row's part in the deviance (eq. 4.13).
    pub deviance: Vec<Option<f64>>,
    /// Derivative of the log likelihood in the coefficients that the row accounts for, one value a term.
    pub score: Vec<Option<Vec<f64>>>,
    /// Change in the coefficients when the row is left out, to first order, case weight included.
    pub dfbeta: Vec<Option<Vec<f64>>>,
}

/// Schoenfeld residual of one event: its covariates less their mean in the risk set (Biometrika 1982;69:239-241).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EventResidual {
    /// Input row, from 0.
    pub row: usize,
    /// Stratum label.
    pub stratum: u32,
    /// Event time.
    pub time: f64,
    /// Residual for each term, whatever the row weighs.
    pub residual: Vec<f64>,
    /// Times the case weight and scaled so that its mean at a time estimates the coefficient there (Grambsch and Therneau,
    /// Biometrika 1994;81:515-526, eq. 4), with the mean of the information taken over all events.
    pub scaled: Vec<f64>,
}

impl CoxFit {
    /// Martingale, deviance, score and dfbeta residuals.
    ///
    /// # Errors
    /// The exact likelihood of ties and separation, for which they are not defined here.
    pub fn residuals(&self) -> Result<CoxResiduals, SurvivalError> {
        self.require_baseline()?;
        let arranged = &self.arranged;
        let n_terms = arranged.n_terms();
        let predictors = arranged.linear_predictors(&self.coefficients);
        let hazard = hazard(arranged, self.sharing(), &arranged.risks(&predictors));
        let n_rows = arranged.n_rows;
        let mut residuals = CoxResiduals {
            martingale: vec![None; n_rows],
            deviance: vec![None; n_rows],
            score: vec![None; n_rows],
            dfbeta: vec![None; n_rows],
        };
        visit_exposures(arranged, &hazard, 0..arranged.len(), |exposure| {
            let row = arranged.order[exposure.position] as usize;
            let observed = if exposure.event.is_some() { 1.0 } else { 0.0 };
            let expected = if exposure.hazard == 0.0 {
                0.0
            } else {
                predictors[exposure.position].exp() * exposure.hazard
            };
            let martingale = observed - expected;
            let log_part = if exposure.event.is_some() && expected > 0.0 {
                expected.ln()
            } else {
                0.0
            };
            let deviance = martingale.signum() * (-2.0 * (martingale + log_part)).max(0.0).sqrt();
            residuals.martingale[row] = Some(martingale);
            residuals.deviance[row] = Some(deviance);
        });
        let weighted = weighted_score_residuals(arranged, self.sharing(), &self.coefficients);
        for position in 0..arranged.len() {
            let row = arranged.order[position] as usize;
            let weight = arranged.weight_at(position);
            let own = &weighted[position * n_terms..(position + 1) * n_terms];
            let unweighted = own
                .iter()
                .zip(&arranged.covariates.scale)
                .map(|(value, scale)| {
                    if weight > 0.0 {
                        value / weight * scale
                    } else {
                        0.0
                    }
                });
            residuals.score[row] = Some(unweighted.collect());
            residuals.dfbeta[row] = Some(
                arranged
                    .covariates
                    .coefficients(&self.model_covariance.times_vector(own)),
            );
        }
        Ok(residuals)
    }

    /// Schoenfeld residuals by stratum, time and row; events tied at one time share their mean.
    ///
    /// # Errors
    /// The exact likelihood of ties and separation.
    pub fn event_residuals(&self) -> Result<Vec<EventResidual>, SurvivalError> {
        self.require_baseline()?;
        let arranged = &self.arranged;
        let n_terms = arranged.n_terms();
        let predictors = arranged.linear_predictors(&self.coefficients);
        let hazard = hazard(arranged, self.sharing(), &arranged.risks(&predictors));
        let n_events = self.n_events as f64;
        let mut residuals = Vec::with_capacity(self.n_events);
        visit_exposures(arranged, &hazard, 0..arranged.len(), |exposure| {
            let Some(own) = exposure.event else { return };
            let position = exposure.position;
            let standardised: Vec<f64> = (0..n_terms)
                .map(|term| arranged.covariates.row(position)[term] - hazard.event_mean(own)[term])
                .collect();
            let weight = arranged.weight_at(position);
            let weighted: Vec<f64> = standardised.iter().map(|value| value * weight).collect();
            let shifted = self.model_covariance.times_vector(&weighted);
            let scaled: Vec<f64> = shifted
                .iter()
                .zip(&self.coefficients)
                .map(|(shift, coefficient)| coefficient + n_events * shift)
                .collect();
            residuals.push(EventResidual {
                row: arranged.order[position] as usize,
                stratum: arranged.label_at(position),
                time: arranged.exit_time(position),
                residual: standardised
                    .iter()
                    .zip(&arranged.covariates.scale)
                    .map(|(value, scale)| value * scale)
                    .collect(),
                scaled: arranged.covariates.coefficients(&scaled),
            });
        });
        let is_tied =
            |a: &EventResidual, b: &EventResidual| (a.stratum, a.time) == (b.stratum, b.time);
        for tied in residuals.chunk_by_mut(is_tied) {
            tied.sort_unstable_by_key(|residual| residual.row);
        }
        Ok(residuals)
    }
}
