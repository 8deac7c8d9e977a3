//! Weights that make two groups alike, from each row's chance of its group.

use serde::{Deserialize, Serialize};

use super::{EffectiveSize, effective_size};
use crate::SurvivalError;
use crate::counts::{check_probabilities, sample_quantile, too_few};
use crate::sample::check_length;

/// The people an effect is meant for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Population {
    /// Everybody in the sample: 1/e for the treated, 1/(1 - e) for the others.
    /// Source: Robins, Hernan and Brumback, Epidemiology 2000;11:550-560.
    #[default]
    Average,
    /// Those who were treated: 1 for them, e/(1 - e) for the others.
    /// Source: Sato and Matsuyama, Epidemiology 2003;14:680-686.
    Treated,
    /// Those who might have been in either group: 1 - e for the treated, e for the others.
    /// Source: Li, Morgan and Zaslavsky, JASA 2018;113:390-400.
    Overlap,
}

/// Weights beyond these quantiles are pulled in to them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Truncation {
    /// Lower quantile, 0 to 1.
    pub lower: f64,
    /// Upper quantile, 0 to 1, not below the lower.
    pub upper: f64,
}

/// Settings of propensity weights.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct WeightOptions {
    /// The people the effect is meant for.
    pub population: Population,
    /// Multiply each weight by the share of its group, so that weights average about 1 (for `Average` only; without
    /// effect on weighted means within a group).
    pub is_stabilised: bool,
    /// Quantiles (type 7, over all rows) beyond which weights are pulled in; `None`: none are.
    pub truncation: Option<Truncation>,
}

/// Propensity weights, one for each row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PropensityWeights {
    /// Weights in row order.
    pub weights: Vec<f64>,
    /// Smallest weight.
    pub smallest: f64,
    /// Mean weight.
    pub mean: f64,
    /// Largest weight.
    pub largest: f64,
    /// Rows whose weight was pulled in.
    pub n_truncated: usize,
    /// Size over all rows.
    pub size: EffectiveSize,
    /// Size of the treated rows.
    pub size_treated: EffectiveSize,
    /// Size of the other rows.
    pub size_untreated: EffectiveSize,
    /// Settings.
    pub options: WeightOptions,
    /// Change of each weight with the log odds of treatment; 0 where the weight was pulled in.
    #[serde(skip)]
    pub(crate) slopes: Vec<f64>,
}

/// Weights from each row's group and its modelled chance of treatment.
///
/// Large weights tell of people who had hardly a chance of the group they were in: look at the effective sizes before
/// trusting an effect, prefer `Overlap` to heavy truncation.
///
/// # Errors
/// Lengths that differ, a chance outside [0, 1], a chance that leaves a row without counterpart (`NoOverlap`: 0 or 1
/// where that makes a weight infinite), an empty group, truncation quantiles out of order.
pub fn propensity_weights(
    is_treated: &[bool],
    propensity: &[f64],
    options: &WeightOptions,
) -> Result<PropensityWeights, SurvivalError> {
    check_length("propensity", propensity.len(), is_treated.len())?;
    check_probabilities("propensity", propensity)?;
    let n_treated = is_treated.iter().filter(|treated| **treated).count();
    let n_smaller = n_treated.min(is_treated.len() - n_treated);
    if n_smaller == 0 {
        return Err(too_few(0, 1));
    }
    let share_treated = n_treated as f64 / is_treated.len() as f64;
    let mut raw = Vec::with_capacity(is_treated.len());
    for ((treated, chance), row) in is_treated.iter().zip(propensity).zip(1..) {
        let share = if *treated {
            share_treated
        } else {
            1.0 - share_treated
        };
        let has_factor = options.is_stabilised && options.population == Population::Average;
        let own = weight_of(*treated, *chance, options.population).scaled(if has_factor {
            share
        } else {
            1.0
        });
        if !own.weight.is_finite() {
            return Err(SurvivalError::NoOverlap { row });
        }
        raw.push(own);
    }
    let bounds = bounds(&raw, options.truncation)?;
    let n_truncated = raw
        .iter()
        .filter(|own| own.weight < bounds.lower || own.weight > bounds.upper)
        .count();
    let kept: Vec<Weight> = raw.iter().map(|own| own.within(bounds)).collect();
    let weights: Vec<f64> = kept.iter().map(|own| own.weight).collect();
    let of_group = |wanted: bool| {
        let own: Vec<f64> = weights
            .iter()
            .zip(is_treated)
            .filter(|(_, t)| **t == wanted)
            .map(|(w, _)| *w)
            .collect();
        effective_size(&own)
    };
    let size = effective_size(&weights);
    Ok(PropensityWeights {
        smallest: weights.iter().copied().fold(f64::INFINITY, f64::min),
        mean: size.sum_of_weights / weights.len() as f64,
        largest: weights.iter().copied().fold(0.0, f64::max),
        n_truncated,
        size,
        size_treated: of_group(true),
        size_untreated: of_group(false),
        options: *options,
        slopes: kept.iter().map(|own| own.slope).collect(),
        weights,
    })
}

/// A weight and its change with the log odds of treatment.
#[derive(Clone, Copy)]
struct Weight {
    weight: f64,
    slope: f64,
}

impl Weight {
    fn scaled(self, factor: f64) -> Weight {
        Weight {
            weight: self.weight * factor,
            slope: self.slope * factor,
        }
    }

    fn within(self, bounds: Truncation) -> Weight {
        if self.weight < bounds.lower {
            Weight {
                weight: bounds.lower,
                slope: 0.0,
            }
        } else if self.weight > bounds.upper {
            Weight {
                weight: bounds.upper,
                slope: 0.0,
            }
        } else {
            self
        }
    }
}

/// With e' = e (1 - e): (1/e)' = -(1 - e)/e, (e/(1 - e))' = e/(1 - e), (1/(1 - e))' = e/(1 - e).
fn weight_of(is_treated: bool, chance: f64, population: Population) -> Weight {
    let other = 1.0 - chance;
    match (population, is_treated) {
        (Population::Average, true) => Weight {
            weight: 1.0 / chance,
            slope: -other / chance,
        },
        (Population::Average, false) => Weight {
            weight: 1.0 / other,
            slope: chance / other,
        },
        (Population::Treated, true) => Weight {
            weight: 1.0,
            slope: 0.0,
        },
        (Population::Treated, false) => Weight {
            weight: chance / other,
            slope: chance / other,
        },
        (Population::Overlap, true) => Weight {
            weight: other,
            slope: -chance * other,
        },
        (Population::Overlap, false) => Weight {
            weight: chance,
            slope: chance * other,
        },
    }
}

/// The weights between which nothing changes.
fn bounds(raw: &[Weight], truncation: Option<Truncation>) -> Result<Truncation, SurvivalError> {
    let Some(Truncation { lower, upper }) = truncation else {
        return Ok(Truncation {
            lower: 0.0,
            upper: f64::INFINITY,
        });
    };
    let weights: Vec<f64> = raw.iter().map(|own| own.weight).collect();
    let quantiles = sample_quantile(&weights, lower).zip(sample_quantile(&weights, upper));
    match quantiles {
        Some((low, high)) if lower <= upper => Ok(Truncation {
            lower: low,
            upper: high,
        }),
        _ => Err(SurvivalError::SettingOutOfRange {
            setting: "truncation",
            rule: "must be two quantiles between 0 and 1, the lower first",
        }),
    }
}
