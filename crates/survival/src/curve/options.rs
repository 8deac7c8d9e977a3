//! Choices that change the uncertainty of a curve, never its estimate.

use crate::SurvivalError;
use serde::Serialize;

/// The scale on which limits are symmetric, before they are carried back to the estimate's own.
///
/// With estimate p, standard error s and normal multiplier z (Klein and Moeschberger 2003, section 4.3):
/// linear p -+ zs; log p exp(-+ zs/p); log-log p^exp(+- zs/(p ln p)); logit; arcsine of the square root. Probabilities are
/// kept in [0, 1]. An incidence is transformed as it stands, not through 1 minus it. Log-log, logit and arcsine limits
/// do not exist at 0 and 1, log limits not at 0. For cumulative hazards and mean counts log-log means log, which
/// is the same for exp(-hazard); logit and arcsine are those of exp(-hazard) and not defined for counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Limits {
    /// On the scale itself.
    Linear,
    /// On the logarithm.
    Log,
    /// On the logarithm of minus the logarithm.
    #[default]
    LogLog,
    /// On the log odds.
    Logit,
    /// On the arcsine of the square root.
    Arcsine,
}

/// Which variance stands behind the standard errors.
///
/// | | event-free (Kaplan-Meier) | cumulative hazard (Nelson-Aalen) | incidence (Aalen-Johansen) |
/// |---|---|---|---|
/// | `Greenwood` | S^2 sum d/(n(n-d)) | sum d(n-d)/n^3 | multinomial increments: Andersen, Borgan, Gill, Keiding 1993, eq. 4.4.17 |
/// | `Aalen` | S^2 sum d/n^2 | sum d/n^2 | Aalen, Ann Stat 1978;6:534, with (n-d)/(n-1) for tied events |
/// | `Robust` | infinitesimal jackknife | infinitesimal jackknife | infinitesimal jackknife |
///
/// The infinitesimal jackknife adds each row's influence (weight times the derivative of the estimate by that weight)
/// within its cluster, squares and sums. Without clusters each row is its own. It is the one to use with dependent rows and with sampling weights;
/// on unweighted right-censored rows it equals Greenwood's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Variance {
    /// Binomial or multinomial increments.
    #[default]
    Greenwood,
    /// Poisson increments.
    Aalen,
    /// Infinitesimal jackknife, summed by cluster.
    Robust,
}

/// Choices of a curve. The defaults are 0.95, log-log and Greenwood.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurveOptions {
    /// Confidence level, between 0 and 1.
    pub level: f64,
    /// How limits are made.
    pub limits: Limits,
    /// Which variance.
    pub variance: Variance,
}

impl Default for CurveOptions {
    fn default() -> Self {
        Self {
            level: 0.95,
            limits: Limits::default(),
            variance: Variance::default(),
        }
    }
}

impl CurveOptions {
    /// The normal multiplier of the level.
    pub(crate) fn multiplier(&self) -> Result<f64, SurvivalError> {
        crate::distribution::normal_multiplier(self.level).ok_or(SurvivalError::LevelOutOfRange)
    }
}
