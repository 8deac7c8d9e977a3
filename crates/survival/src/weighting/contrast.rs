//! Differences between weighted groups, with the weights taken as known or as estimated.

use serde::{Deserialize, Serialize};

use super::PropensityWeights;
use super::curves::with_weights;
use super::derivative::{Derivative, GroupSums};
use crate::counts::ConfidenceLimits;
use crate::distribution::normal_multiplier;
use crate::regression::{ClusterIndex, summed_by_cluster};
use crate::sample::check_length;
use crate::time_order::time_order;
use crate::{Sample, SurvivalError};

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Target {
    /// Probability of no event by a time.
    EventFree {
        /// The time.
        time: f64,
    },
    /// Probability of an event of one cause by a time.
    Incidence {
        /// The cause.
        cause: u32,
        /// The time.
        time: f64,
    },
    /// Mean event-free time up to a time.
    RestrictedMean {
        /// The time.
        until: f64,
    },
}

/// An estimate with its standard error and limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// The estimate.
    pub estimate: f64,
    /// Robust standard error.
    pub std_error: f64,
    /// Estimate plus and minus z standard errors.
    pub limits: ConfidenceLimits,
}

/// Whether the standard errors know that the weights were estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WeightUncertainty {
    /// Weights are taken as known; for the average effect this errs on the wide side.
    Known,
    /// The estimation of the propensity is carried along.
    Estimated,
}

/// Treated against others under propensity weights.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contrast {
    /// What is compared.
    pub target: Target,
    /// The treated.
    pub treated: Estimate,
    /// The others.
    pub untreated: Estimate,
    /// Treated minus others.
    pub difference: Estimate,
    /// How the standard errors were made.
    pub uncertainty: WeightUncertainty,
    /// Confidence level.
    pub level: f64,
}

/// Compares the treated with the others under propensity weights, the weights taken as known.
///
/// Influences of the rows of one cluster are added before they are squared, also across the two groups, so a person with
/// rows in both is one person. `Ok(None)`: not estimable, a group having nobody at risk or the target lying past its last observation.
///
/// # Errors
/// Lengths that differ, or the level out of range.
///
/// Source: weighted curves, Xie and Liu, Stat Med 2005;24:3089-3110; variance, infinitesimal jackknife (Efron 1982, chapter 6).
pub fn weighted_contrast(
    sample: &Sample,
    is_treated: &[bool],
    weights: &PropensityWeights,
    target: Target,
    level: f64,
) -> Result<Option<Contrast>, SurvivalError> {
    let Some(arms) = arms(sample, is_treated, weights, target)? else {
        return Ok(None);
    };
    let uncertainty = WeightUncertainty::Known;
    contrast(
        &arms,
        sample.cluster(),
        |arm| arm.influence.clone(),
        target,
        uncertainty,
        level,
    )
    .map(Some)
}

/// One arm: estimate, influences with known weights, and derivative of the estimate by each row's weight factor.
pub(super) struct Arm {
    pub(super) estimate: f64,
    /// Total weight times derivative.
    pub(super) influence: Vec<f64>,
    /// Derivative by the propensity weight (weights of the sample itself multiplied in).
    pub(super) by_propensity_weight: Vec<f64>,
}

/// Both arms.
pub(super) struct Arms {
    pub(super) treated: Arm,
    pub(super) untreated: Arm,
}

pub(super) fn arms(
    sample: &Sample,
    is_treated: &[bool],
    weights: &PropensityWeights,
    target: Target,
) -> Result<Option<Arms>, SurvivalError> {
    check_length("treated", is_treated.len(), sample.len())?;
    let weighted = with_weights(sample, &weights.weights)?;
    let order = time_order(&weighted)?;
    let arm = |wanted: bool| {
        let is_member = is_treated
            .iter()
            .map(|treated| *treated == wanted)
            .collect();
        let sums = GroupSums::new(&weighted, &order, is_member)?;
        let Derivative {
            estimate,
            by_weight,
        } = match target {
            Target::EventFree { time } => sums.event_free(time)?,
            Target::Incidence { cause, time } => sums.incidence(cause, time)?,
            Target::RestrictedMean { until } => sums.restricted_mean(until)?,
        };
        let by_propensity_weight = match sample.weight() {
            None => by_weight,
            Some(own) => own
                .iter()
                .zip(&by_weight)
                .map(|(own, change)| own * change)
                .collect(),
        };
        let influence = weights
            .weights
            .iter()
            .zip(&by_propensity_weight)
            .map(|(w, change)| w * change)
            .collect();
        Some(Arm {
            estimate,
            influence,
            by_propensity_weight,
        })
    };
    Ok(arm(true)
        .zip(arm(false))
        .map(|(treated, untreated)| Arms { treated, untreated }))
}

/// Estimates and limits from the influences that `influence` gives for each arm.
pub(super) fn contrast(
    arms: &Arms,
    cluster: Option<&[u32]>,
    influence: impl Fn(&Arm) -> Vec<f64>,
    target: Target,
    uncertainty: WeightUncertainty,
    level: f64,
) -> Result<Contrast, SurvivalError> {
    let z = normal_multiplier(level).ok_or(SurvivalError::LevelOutOfRange)?;
    let (treated, untreated) = (influence(&arms.treated), influence(&arms.untreated));
    let between: Vec<f64> = treated
        .iter()
        .zip(&untreated)
        .map(|(treated, untreated)| treated - untreated)
        .collect();
    let estimate = |estimate: f64, influence: &[f64]| {
        let std_error = sum_of_squares(influence, cluster).sqrt();
        let limits = ConfidenceLimits {
            lower: estimate - z * std_error,
            upper: estimate + z * std_error,
        };
        Estimate {
            estimate,
            std_error,
            limits,
        }
    };
    Ok(Contrast {
        target,
        treated: estimate(arms.treated.estimate, &treated),
        untreated: estimate(arms.untreated.estimate, &untreated),
        difference: estimate(arms.treated.estimate - arms.untreated.estimate, &between),
        uncertainty,
        level,
    })
}

/// Sum over clusters of the squared sum of influences.
fn sum_of_squares(influence: &[f64], cluster: Option<&[u32]>) -> f64 {
    let order: Vec<u32> = (0..influence.len() as u32).collect();
    let clusters = ClusterIndex::of(cluster, influence.len(), &order);
    summed_by_cluster(influence, 1, &clusters)
        .iter()
        .map(|sum| sum * sum)
        .sum()
}
