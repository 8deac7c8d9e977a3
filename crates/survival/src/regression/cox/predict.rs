//! Curves a fit predicts: for one profile of covariates, or averaged over many.

use serde::Serialize;

use crate::SurvivalError;
use crate::distribution::normal_multiplier;
use crate::regression::Covariates;
use crate::regression::cox::CoxFit;
use crate::regression::cox::influence::{Hazard, hazard};

/// A predicted curve: the probability of no event, exp(-cumulative hazard).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HazardCurve {
    /// Stratum whose baseline it rests on.
    pub stratum: u32,
    /// Confidence level of the limits.
    pub level: f64,
    /// Points in the order of the times asked for.
    pub points: Vec<HazardPoint>,
}

/// One point of a predicted curve. Past the last time at risk in the stratum nothing is estimable and all numbers are `None`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HazardPoint {
    /// Time asked for.
    pub time: f64,
    /// Cumulative hazard; for an averaged curve minus the log of the averaged probability.
    pub cumulative_hazard: Option<f64>,
    /// Probability of no event until and including this time.
    pub estimate: Option<f64>,
    /// Its standard error, the uncertainty of the coefficients included.
    pub std_error: Option<f64>,
    /// Lower limit, from limits of the log probability.
    pub lower: Option<f64>,
    /// Upper limit, at most 1.
    pub upper: Option<f64>,
}

impl CoxFit {
    /// The curve of a row with these covariates in this stratum at these times. Variance: Tsiatis (Annals of Statistics
    /// 1981;9:93-108) in the form of Therneau and Grambsch 2000, eq. 10.12: of the hazard steps, and of the coefficients
    /// (robust where the fit is). A profile with a redundant column is expected to repeat what the column repeats.
    ///
    /// # Errors
    /// A profile of the wrong length or not finite, an unknown stratum, exact ties, separation.
    pub fn curve(
        &self,
        profile: &[f64],
        stratum: u32,
        times: &[f64],
    ) -> Result<HazardCurve, SurvivalError> {
        let row = Covariates::new(1, self.profile_columns(profile)?)?;
        self.adjusted_curve(&row, stratum, times)
    }

    /// The curve averaged over the rows of `covariates`, each predicted with its own values: what the group would look like if
    /// all its rows belonged to this stratum (Makuch, Journal of Chronic Diseases 1982;35:437-443). Fix a covariate with
    /// [`Covariates::with_fixed`] to compare groups at one case mix. The standard error takes the rows as given.
    ///
    /// # Errors
    /// As for [`CoxFit::curve`]; no row at all.
    pub fn adjusted_curve(
        &self,
        covariates: &Covariates,
        stratum: u32,
        times: &[f64],
    ) -> Result<HazardCurve, SurvivalError> {
        self.require_baseline()?;
        if covariates.names().len() != self.arranged.n_terms() {
            return Err(SurvivalError::UnequalProfile {
                n_expected: self.arranged.n_terms(),
                n_found: covariates.names().len(),
            });
        }
        if covariates.n_rows() == 0 {
            return Err(SurvivalError::NoRows);
        }
        let Some(which) = self
            .arranged
            .labels
            .iter()
            .position(|&label| label == stratum)
        else {
            return Err(SurvivalError::SettingOutOfRange {
                setting: "stratum",
                rule: "must be a stratum of the fit",
            });
        };
        let predictors = self.arranged.linear_predictors(&self.coefficients);
        let hazard = hazard(
            &self.arranged,
            self.sharing(),
            &self.arranged.risks(&predictors),
        );
        let events = self.arranged.slots.events(which);
        let event_times: Vec<f64> = events
            .clone()
            .map(|slot| self.arranged.time_of(self.arranged.slots.step[slot]))
            .collect();
        // the slot before the first event time is the first of the stratum
        let slot_at = |time: f64| {
            events.start - 1 + event_times.partition_point(|&event_time| event_time <= time)
        };
        let last_time = self
            .arranged
            .stratum(which)
            .next_back()
            .map_or(f64::NEG_INFINITY, |position| {
                self.arranged.exit_time(position)
            });
        let rows: Vec<Vec<f64>> = (0..covariates.n_rows())
            .filter_map(|row| covariates.row(row))
            .map(|row| self.arranged.covariates.standardise(&row))
            .collect();
        let points = times
            .iter()
            .map(|&time| {
                if time <= last_time {
                    self.averaged_point(&hazard, slot_at(time), &rows, time)
                } else {
                    not_estimable(time)
                }
            })
            .collect();
        Ok(HazardCurve {
            stratum,
            level: self.options.level,
            points,
        })
    }

    fn averaged_point(
        &self,
        baseline: &Hazard,
        slot: usize,
        rows: &[Vec<f64>],
        time: f64,
    ) -> HazardPoint {
        let n_terms = self.arranged.n_terms();
        let hazard = baseline.cumulative[slot];
        let drift = baseline.drift(slot);
        let mut probability = 0.0;
        // derivatives of the mean probability in the baseline and in the coefficients, sign turned
        let mut baseline_slope = 0.0;
        let mut slopes = vec![0.0; n_terms];
        for row in rows {
            let risk = row
                .iter()
                .zip(&self.coefficients)
                .map(|(value, coefficient)| value * coefficient)
                .sum::<f64>()
                .exp();
            let own = if hazard == 0.0 {
                1.0
            } else {
                (-risk * hazard).exp()
            };
            probability += own;
            let slope = if own == 0.0 { 0.0 } else { own * risk };
            baseline_slope += slope;
            for ((sum, value), drift) in slopes.iter_mut().zip(row).zip(drift) {
                *sum += slope * (value * hazard - drift);
            }
        }
        let n_rows = rows.len() as f64;
        let probability = probability / n_rows;
        let variance = (baseline_slope.powi(2) * baseline.variance[slot]
            + self.covariance_in_use.quadratic_form(&slopes))
            / (n_rows * n_rows);
        let std_error = variance.max(0.0).sqrt();
        let is_positive = probability > 0.0 && std_error.is_finite();
        let reach = normal_multiplier(self.options.level)
            .filter(|_| is_positive)
            .map(|multiplier| multiplier * std_error / probability);
        HazardPoint {
            time,
            cumulative_hazard: is_positive.then(|| 0.0 - probability.ln()),
            estimate: Some(probability),
            std_error: Some(std_error).filter(|std_error| std_error.is_finite()),
            lower: reach.map(|reach| probability * (-reach).exp()),
            upper: reach.map(|reach| (probability * reach.exp()).min(1.0)),
        }
    }

    fn profile_columns(
        &self,
        profile: &[f64],
    ) -> Result<Vec<crate::regression::Covariate>, SurvivalError> {
        if profile.len() != self.terms.len() {
            return Err(SurvivalError::UnequalProfile {
                n_expected: self.terms.len(),
                n_found: profile.len(),
            });
        }
        Ok(self
            .terms
            .iter()
            .zip(profile)
            .map(|(term, &value)| crate::regression::Covariate {
                name: term.term.clone(),
                values: vec![value],
            })
            .collect())
    }
}

fn not_estimable(time: f64) -> HazardPoint {
    HazardPoint {
        time,
        cumulative_hazard: None,
        estimate: None,
        std_error: None,
        lower: None,
        upper: None,
    }
}
