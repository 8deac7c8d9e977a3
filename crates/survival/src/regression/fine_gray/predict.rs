//! What a sub-distribution model predicts.

use serde::Serialize;

use super::FineGrayFit;
use crate::SurvivalError;
use crate::counts::ConfidenceLimits;
use crate::distribution::normal_multiplier;
use crate::regression::Estimability;
use crate::regression::cox::influence::{Hazard, hazard};

/// Cumulative sub-distribution hazard at an event time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SubdistributionStep {
    /// Stratum label; 0 without strata.
    pub stratum: u32,
    /// Event time.
    pub time: f64,
    /// Cumulative hazard with every covariate 0, this step included.
    pub cumulative_hazard: f64,
}

/// Predicted cumulative incidence at a time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PredictedIncidence {
    /// The time asked for.
    pub time: f64,
    /// Probability of the event of interest until and including the time; `None` past the last time at risk.
    pub estimate: Option<f64>,
    /// Standard error of the estimate: the covariance of the coefficients that the terms carry, and the steps of the baseline
    /// as Poisson counts, the weights for censoring and entry taken as known there.
    pub std_error: Option<f64>,
    /// Lower limit, from the logarithm of the cumulative hazard; `None` where nothing has happened yet.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

impl FineGrayFit {
    /// Cumulative sub-distribution hazard with every covariate 0, by stratum and ascending event time.
    ///
    /// # Errors
    /// Separation.
    pub fn baseline(&self) -> Result<Vec<SubdistributionStep>, SurvivalError> {
        let profile = vec![0.0; self.coefficients.len()];
        let at_profile = self.log_ratio(&self.standardised(&profile)?).exp();
        let hazard = self.hazard();
        let arranged = &self.subdistribution.arranged;
        let slots = &arranged.slots;
        let strata = arranged.labels.iter().enumerate();
        let steps = strata.flat_map(|(which, &stratum)| {
            let hazard = &hazard;
            slots.events(which).map(move |slot| SubdistributionStep {
                stratum,
                time: arranged.time_of(slots.step[slot]),
                cumulative_hazard: hazard.cumulative[slot] * at_profile,
            })
        });
        Ok(steps.collect())
    }

    /// Cumulative incidence 1 - exp(-H(t)) of a row with these covariates in this stratum (0 without strata), with its standard
    /// error and limits.
    ///
    /// # Errors
    /// A profile of another length, an unknown stratum, separation.
    ///
    /// Source: Fine and Gray, JASA 1999;94:496, section 4, for the estimate; error as that of a curve of a proportional hazards
    /// model, Tsiatis, Ann Stat 1981;9:93 (both from memory).
    pub fn incidence(
        &self,
        profile: &[f64],
        stratum: u32,
        times: &[f64],
    ) -> Result<Vec<PredictedIncidence>, SurvivalError> {
        let profile = self.standardised(profile)?;
        let arranged = &self.subdistribution.arranged;
        let which = arranged.labels.iter().position(|&label| label == stratum);
        let which = which.ok_or(SurvivalError::SettingOutOfRange {
            setting: "stratum",
            rule: "must be a stratum of the fit",
        })?;
        let hazard = self.hazard();
        let last_time = arranged.exit_time(arranged.stratum(which).end - 1);
        let events = arranged.slots.events(which);
        let event_times: Vec<f64> = events
            .clone()
            .map(|slot| arranged.time_of(arranged.slots.step[slot]))
            .collect();
        Ok(times
            .iter()
            .map(|&time| {
                if time <= last_time {
                    let n_passed = event_times.partition_point(|&event_time| event_time <= time);
                    // the slot before the first event time is the first of the stratum
                    self.predicted(&hazard, events.start - 1 + n_passed, &profile, time)
                } else {
                    PredictedIncidence {
                        time,
                        estimate: None,
                        std_error: None,
                        lower: None,
                        upper: None,
                    }
                }
            })
            .collect())
    }

    fn predicted(
        &self,
        hazard: &Hazard,
        slot: usize,
        profile: &[f64],
        time: f64,
    ) -> PredictedIncidence {
        let ratio = self.log_ratio(profile).exp();
        let baseline = hazard.cumulative[slot];
        let cumulative = if baseline == 0.0 {
            0.0
        } else {
            ratio * baseline
        };
        let slopes: Vec<f64> = profile
            .iter()
            .zip(hazard.drift(slot))
            .map(|(value, drift)| value * baseline - drift)
            .collect();
        let variance = hazard.variance[slot] + self.covariance_in_use.quadratic_form(&slopes);
        let error = ratio * variance.max(0.0).sqrt();
        let incidence_at = |cumulative: f64| -(-cumulative).exp_m1();
        let limits = normal_multiplier(self.options.level)
            .filter(|_| cumulative > 0.0 && error.is_finite())
            .map(|multiplier| {
                let factor = (multiplier * error / cumulative).exp();
                ConfidenceLimits {
                    lower: incidence_at(cumulative / factor),
                    upper: incidence_at(cumulative * factor),
                }
            });
        let std_error = (-cumulative).exp() * error;
        PredictedIncidence {
            time,
            estimate: Some(incidence_at(cumulative)),
            std_error: Some(std_error).filter(|std_error| std_error.is_finite()),
            lower: limits.map(|limits| limits.lower),
            upper: limits.map(|limits| limits.upper),
        }
    }

    /// Whether every term that varies has a finite estimate.
    pub fn has_finite_estimates(&self) -> bool {
        self.terms.iter().all(|term| {
            matches!(
                term.estimability,
                Estimability::Estimated | Estimability::Redundant
            )
        })
    }

    /// A profile on the scale of the fit.
    fn standardised(&self, profile: &[f64]) -> Result<Vec<f64>, SurvivalError> {
        if profile.len() != self.coefficients.len() {
            return Err(SurvivalError::UnequalProfile {
                n_expected: self.coefficients.len(),
                n_found: profile.len(),
            });
        }
        if !self.has_finite_estimates() {
            return Err(SurvivalError::NoFiniteEstimate);
        }
        let covariates = &self.subdistribution.arranged.covariates;
        Ok(covariates.standardise(profile))
    }

    fn log_ratio(&self, standardised: &[f64]) -> f64 {
        let products = standardised.iter().zip(&self.coefficients);
        products
            .map(|(value, coefficient)| value * coefficient)
            .sum()
    }

    fn hazard(&self) -> Hazard {
        let arranged = &self.subdistribution.arranged;
        hazard(
            &self.subdistribution,
            self.options.ties.sharing(),
            &arranged.risks_at(&self.coefficients),
        )
    }
}
