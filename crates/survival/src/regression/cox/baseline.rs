//! The baseline cumulative hazard.

use serde::Serialize;

use crate::SurvivalError;
use crate::regression::cox::CoxFit;
use crate::regression::cox::influence::hazard;

/// Cumulative hazard of one stratum with every covariate 0, whether or not such a row exists.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Baseline {
    /// Stratum label.
    pub stratum: u32,
    /// A step at each event time, ascending.
    pub steps: Vec<BaselineStep>,
}

/// One step of a baseline.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BaselineStep {
    /// Event time.
    pub time: f64,
    /// Cumulative hazard, this step included.
    pub cumulative_hazard: f64,
}

impl CoxFit {
    /// Baseline cumulative hazards (Breslow's estimate; with Efron's increments after an Efron fit: Therneau and Grambsch
    /// 2000, eq. 10.7 and section 10.2).
    ///
    /// # Errors
    /// The exact likelihood of ties and separation.
    pub fn baseline(&self) -> Result<Vec<Baseline>, SurvivalError> {
        self.require_baseline()?;
        let at_zero = self.linear_predictor_at_zero().exp();
        let predictors = self.arranged.linear_predictors(&self.coefficients);
        let hazard = hazard(
            &self.arranged,
            self.sharing(),
            &self.arranged.risks(&predictors),
        );
        let slots = &self.arranged.slots;
        let steps_of = |stratum: usize| {
            let step = |slot: usize| BaselineStep {
                time: self.arranged.time_of(slots.step[slot]),
                cumulative_hazard: hazard.cumulative[slot] * at_zero,
            };
            slots.events(stratum).map(step).collect()
        };
        Ok(self
            .arranged
            .labels
            .iter()
            .enumerate()
            .map(|(stratum, &label)| Baseline {
                stratum: label,
                steps: steps_of(stratum),
            })
            .collect())
    }

    /// Linear predictor of a row of zeros, measured from the centre.
    fn linear_predictor_at_zero(&self) -> f64 {
        let zero = vec![0.0; self.arranged.n_terms()];
        self.arranged
            .covariates
            .standardise(&zero)
            .iter()
            .zip(&self.coefficients)
            .map(|(value, coefficient)| value * coefficient)
            .sum()
    }
}
