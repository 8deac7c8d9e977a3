//! Curves of groups under weights.

use serde::Serialize;

use super::{EffectiveSize, effective_size};
use crate::grouping::Grouping;
use crate::sample::check_length;
use crate::{
    CumulativeIncidence, Curve, CurveOptions, Limits, Sample, SurvivalError, Variance,
    aalen_johansen, kaplan_meier,
};

/// A weighted curve of one group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeightedCurve {
    /// The group's number.
    pub group: u32,
    /// Rows, sum of weights and effective size of the group.
    pub size: EffectiveSize,
    /// Probability of no event yet, with robust variance.
    pub curve: Curve,
}

/// Weighted incidences of one group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeightedIncidence {
    /// The group's number.
    pub group: u32,
    /// Rows, sum of weights and effective size of the group.
    pub size: EffectiveSize,
    /// Incidence of each cause of the whole sample and probability of none, with robust variance.
    pub incidence: CumulativeIncidence,
}

/// Event-free curve of each group under `weights`, in increasing order of the group's number.
///
/// Weights the sample has already are multiplied in. The variance is the infinitesimal jackknife, summed by cluster, with
/// the weights taken as known; for weights that were estimated see [`super::weighted_contrast`].
///
/// # Errors
/// Lengths that differ, a weight that is negative or not finite, a group without weight, the level out of range.
///
/// Source: Xie and Liu, Stat Med 2005;24:3089-3110 (weighted product-limit curve).
pub fn weighted_curves(
    sample: &Sample,
    group: &[u32],
    weights: &[f64],
    level: f64,
    limits: Limits,
) -> Result<Vec<WeightedCurve>, SurvivalError> {
    let options = CurveOptions {
        level,
        limits,
        variance: Variance::Robust,
    };
    groups(sample, group, weights)?
        .into_iter()
        .map(|own| {
            Ok(WeightedCurve {
                group: own.group,
                size: own.size,
                curve: kaplan_meier(&own.sample, &options)?,
            })
        })
        .collect()
}

/// Incidence of each cause in each group under `weights`, in increasing order of the group's number.
///
/// As [`weighted_curves`]; a cause that does not occur in a group is 0 there.
///
/// # Errors
/// As [`weighted_curves`].
pub fn weighted_incidence(
    sample: &Sample,
    group: &[u32],
    weights: &[f64],
    level: f64,
    limits: Limits,
) -> Result<Vec<WeightedIncidence>, SurvivalError> {
    let options = CurveOptions {
        level,
        limits,
        variance: Variance::Robust,
    };
    groups(sample, group, weights)?
        .into_iter()
        .map(|own| {
            let incidence = aalen_johansen(&own.sample, &options)?;
            Ok(WeightedIncidence {
                group: own.group,
                size: own.size,
                incidence,
            })
        })
        .collect()
}

struct Group {
    group: u32,
    size: EffectiveSize,
    sample: Sample,
}

fn groups(sample: &Sample, group: &[u32], weights: &[f64]) -> Result<Vec<Group>, SurvivalError> {
    let grouping = Grouping::new("group", group, sample.len())?;
    let weighted = with_weights(sample, weights)?;
    let group = |(place, label): (usize, &u32)| {
        let own = rows_of(&weighted, |row| grouping.of(row) == place)?;
        let size = effective_size(own.weight().unwrap_or_default());
        Ok(Group {
            group: *label,
            size,
            sample: own,
        })
    };
    grouping.labels.iter().enumerate().map(group).collect()
}

/// The sample with its weights multiplied by `weights`.
pub(super) fn with_weights(sample: &Sample, weights: &[f64]) -> Result<Sample, SurvivalError> {
    check_length("weight", weights.len(), sample.len())?;
    let product = match sample.weight() {
        None => weights.to_vec(),
        Some(own) => own
            .iter()
            .zip(weights)
            .map(|(own, weight)| own * weight)
            .collect(),
    };
    sample.clone().with_weight(product)
}

/// The rows of a sample that `is_kept` keeps, with all causes of the whole declared.
fn rows_of(sample: &Sample, is_kept: impl Fn(usize) -> bool) -> Result<Sample, SurvivalError> {
    let rows: Vec<usize> = (0..sample.len()).filter(|index| is_kept(*index)).collect();
    let mut own = Sample::new(taken(sample.exit(), &rows), taken(sample.cause(), &rows))?
        .with_causes(&sample.causes());
    if let Some(entry) = sample.entry() {
        own = own.with_entry(taken(entry, &rows))?;
    }
    if let Some(weight) = sample.weight() {
        own = own.with_weight(taken(weight, &rows))?;
    }
    if let Some(cluster) = sample.cluster() {
        own = own.with_cluster(taken(cluster, &rows))?;
    }
    Ok(own)
}

fn taken<T: Copy>(column: &[T], rows: &[usize]) -> Vec<T> {
    rows.iter()
        .filter_map(|row| column.get(*row).copied())
        .collect()
}
