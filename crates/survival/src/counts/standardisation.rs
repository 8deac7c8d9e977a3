//! Standardisation of rates: indirect (expected events at reference rates) and direct (own rates at standard weights).

use serde::{Deserialize, Serialize};

use super::ConfidenceLimits;
use super::{Rate, RateLimits, rate};
use crate::distribution::{Tail, chi_squared_quantile, normal_multiplier};

/// One stratum of a study beside the same stratum of a reference population.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct IndirectStratum {
    /// Events in the study.
    pub n_events: u64,
    /// Exposure of the study (person-time, or people).
    pub exposure: f64,
    /// Events in the reference population.
    pub reference_events: f64,
    /// Exposure of the reference population, in the study's unit.
    pub reference_exposure: f64,
}

/// Indirectly standardised ratio and rate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IndirectStandardisation {
    /// Expected events of each stratum: reference rate times own exposure, in the order given.
    pub expected_by_stratum: Vec<f64>,
    /// Observed over expected events, with limits; its `exposure` is the sum of the expected events.
    pub ratio: Rate,
    /// Variance of the ratio, observed / expected^2 (Poisson count, expected taken as known).
    pub ratio_variance: Option<f64>,
    /// Study events over study exposure.
    pub crude_rate: Option<f64>,
    /// All reference events over all reference exposure.
    pub reference_rate: Option<f64>,
    /// Ratio times the reference rate, with the limits scaled alike.
    pub adjusted_rate: Option<f64>,
    /// Limits of the adjusted rate.
    pub adjusted_limits: Option<ConfidenceLimits>,
}

/// Indirect standardisation: events expected had the study's strata run at the reference rates.
///
/// Ratios of different studies share no common weights, so they are not to be ranked against each other.
/// A stratum without reference exposure has no expected value: the whole result is `None`, as it is when an exposure or
/// reference count is negative or not finite. Without expected events the ratio inside is not estimable.
/// Source: Breslow and Day, Statistical Methods in Cancer Research II, 1987, chapter 2.
pub fn indirect_standardisation(
    strata: &[IndirectStratum],
    level: f64,
    method: RateLimits,
) -> Option<IndirectStandardisation> {
    let expected_by_stratum = strata
        .iter()
        .map(|stratum| {
            let is_usable = is_amount(stratum.exposure)
                && is_amount(stratum.reference_events)
                && is_amount(stratum.reference_exposure)
                && stratum.reference_exposure > 0.0;
            is_usable
                .then(|| stratum.reference_events / stratum.reference_exposure * stratum.exposure)
        })
        .collect::<Option<Vec<f64>>>()?;
    let observed = strata
        .iter()
        .try_fold(0_u64, |sum, stratum| sum.checked_add(stratum.n_events))?;
    let expected: f64 = expected_by_stratum.iter().sum();
    let exposure: f64 = strata.iter().map(|stratum| stratum.exposure).sum();
    let reference_events: f64 = strata.iter().map(|stratum| stratum.reference_events).sum();
    let reference_exposure: f64 = strata
        .iter()
        .map(|stratum| stratum.reference_exposure)
        .sum();
    let ratio = rate(observed, expected, level, method);
    let reference_rate = quotient(reference_events, reference_exposure);
    Some(IndirectStandardisation {
        ratio_variance: quotient(observed as f64, expected * expected),
        crude_rate: quotient(observed as f64, exposure),
        reference_rate,
        adjusted_rate: ratio
            .estimate
            .zip(reference_rate)
            .map(|(ratio, rate)| ratio * rate),
        adjusted_limits: ratio
            .limits
            .zip(reference_rate)
            .map(|(limits, rate)| ConfidenceLimits {
                lower: limits.lower * rate,
                upper: limits.upper * rate,
            }),
        ratio,
        expected_by_stratum,
    })
}

/// One stratum of a study and its weight in the standard population.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DirectStratum {
    /// Events in the study.
    pub n_events: u64,
    /// Exposure of the study (person-time for rates, people for proportions).
    pub exposure: f64,
    /// Size of the stratum in the standard population; only its share counts.
    pub standard_weight: f64,
}

/// What the events of a directly standardised figure are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EventLaw {
    /// Poisson counts over person-time: variance of a stratum's rate is events / exposure^2.
    Rate,
    /// Binomial counts among people: variance of a stratum's share is p (1 - p) / n.
    Proportion,
}

/// Directly standardised rate or proportion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DirectStandardisation {
    /// Study events over study exposure.
    pub crude: Option<f64>,
    /// Weighted mean of the strata's rates or proportions.
    pub estimate: Option<f64>,
    /// Variance of the estimate.
    pub variance: Option<f64>,
    /// Estimate plus and minus z standard errors; may leave the possible range.
    pub normal_limits: Option<ConfidenceLimits>,
    /// Gamma limits, at least as wide as the level promises for rates; for proportions `None`.
    pub gamma_limits: Option<ConfidenceLimits>,
    /// Confidence level, between 0 and 1.
    pub level: f64,
}

/// Direct standardisation: the rate the standard population would have at the study's stratum rates.
///
/// Not estimable (`None` inside) when a stratum with weight has no exposure, an amount is negative or not finite, the
/// weights sum to 0, or (limits) the level is not strictly between 0 and 1. For proportions a stratum with more events
/// than people is not estimable.
/// Source: gamma limits, Fay and Feuer, Stat Med 1997;16:791-801, equations for the lower and upper limit with the
/// largest weight over exposure as correction.
pub fn direct_standardisation(
    strata: &[DirectStratum],
    level: f64,
    law: EventLaw,
) -> DirectStandardisation {
    let exposure: f64 = strata.iter().map(|stratum| stratum.exposure).sum();
    let n_events: f64 = strata.iter().map(|stratum| stratum.n_events as f64).sum();
    let sums = weighted_sums(strata, law);
    let tail = (level > 0.0 && level < 1.0).then_some((1.0 - level) / 2.0);
    let normal_limits = sums.and_then(|sums| {
        let width = normal_multiplier(level)? * sums.variance.sqrt();
        Some(ConfidenceLimits {
            lower: sums.estimate - width,
            upper: sums.estimate + width,
        })
    });
    let gamma_limits = match law {
        EventLaw::Rate => sums
            .zip(tail)
            .and_then(|(sums, tail)| gamma_limits(sums, tail)),
        EventLaw::Proportion => None,
    };
    DirectStandardisation {
        crude: quotient(n_events, exposure),
        estimate: sums.map(|sums| sums.estimate),
        variance: sums.map(|sums| sums.variance),
        normal_limits,
        gamma_limits,
        level,
    }
}

#[derive(Clone, Copy)]
struct WeightedSums {
    estimate: f64,
    variance: f64,
    largest_weight: f64,
}

fn weighted_sums(strata: &[DirectStratum], law: EventLaw) -> Option<WeightedSums> {
    let total: f64 = strata.iter().map(|stratum| stratum.standard_weight).sum();
    if !(total.is_finite() && total > 0.0) {
        return None;
    }
    let mut sums = WeightedSums {
        estimate: 0.0,
        variance: 0.0,
        largest_weight: 0.0,
    };
    for stratum in strata {
        if !is_amount(stratum.standard_weight) || !is_amount(stratum.exposure) {
            return None;
        }
        if stratum.standard_weight == 0.0 {
            continue;
        }
        let events = stratum.n_events as f64;
        let own_rate = quotient(events, stratum.exposure)?;
        let share = stratum.standard_weight / total;
        let variance = match law {
            EventLaw::Rate => own_rate / stratum.exposure,
            EventLaw::Proportion if own_rate > 1.0 => return None,
            EventLaw::Proportion => own_rate * (1.0 - own_rate) / stratum.exposure,
        };
        sums.estimate += share * own_rate;
        sums.variance += share * share * variance;
        sums.largest_weight = sums.largest_weight.max(share / stratum.exposure);
    }
    Some(sums)
}

fn gamma_limits(sums: WeightedSums, tail: f64) -> Option<ConfidenceLimits> {
    let WeightedSums {
        estimate,
        variance,
        largest_weight,
    } = sums;
    let lower = if estimate == 0.0 {
        0.0
    } else {
        variance / (2.0 * estimate)
            * chi_squared_quantile(tail, Tail::Lower, 2.0 * estimate * estimate / variance)?
    };
    let (estimate, variance) = (
        estimate + largest_weight,
        variance + largest_weight * largest_weight,
    );
    let upper = variance / (2.0 * estimate)
        * chi_squared_quantile(tail, Tail::Upper, 2.0 * estimate * estimate / variance)?;
    Some(ConfidenceLimits { lower, upper })
}

fn is_amount(value: f64) -> bool {
    value.is_finite() && value >= 0.0
}

fn quotient(numerator: f64, denominator: f64) -> Option<f64> {
    (denominator.is_finite() && denominator > 0.0 && numerator.is_finite())
        .then(|| numerator / denominator)
}
