//! Observed events against the sum of predicted chances, person by person.

use serde::Serialize;

use super::ConfidenceLimits;
use super::poisson_binomial::PoissonBinomial;
use super::root::crossing;
use crate::distribution::{Tail, normal_probability, normal_quantile};

/// Observed against expected events where everyone has a predicted chance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ObservedExpected {
    /// Events seen.
    pub observed: u64,
    /// People with a known outcome and a predicted chance.
    pub n: usize,
    /// Sum of the predicted chances.
    pub expected: f64,
    /// Variance of the count under the predictions, the sum of p (1 - p).
    pub variance: f64,
    /// Observed / expected; `None` when nothing is expected.
    pub ratio: Option<f64>,
    /// Exact limits of the ratio when the odds of everybody are off by one common factor; `None` when not estimable.
    pub limits: Option<ConfidenceLimits>,
    /// (observed - expected) / sqrt(variance); `None` when the variance is 0.
    pub z: Option<f64>,
    /// Probability of as few events or fewer if the predictions hold.
    pub p_at_most: f64,
    /// Probability of as many events or more if the predictions hold.
    pub p_at_least: f64,
    /// Twice the smaller tail, at most 1.
    pub p_two_sided: f64,
    /// Twice the smaller tail with the observed count counted half, at most 1.
    pub p_mid: f64,
    /// Range of the ratio that the predictions themselves allow with the stated level (quantiles / expected).
    pub allowed: Option<ConfidenceLimits>,
    /// Confidence level, between 0 and 1.
    pub level: f64,
}

/// Compares `observed` events with the sum of `chances` by the exact Poisson-binomial law.
///
/// Use this for common outcomes, where a Poisson law is about twice too wide. The limits of the ratio answer: by which
/// common factor could the odds of all be off so that a count this large (small) would have half of 1 - level as its
/// tail? The chances moved by that factor, summed, over the expected sum. With equal chances they are Clopper-Pearson
/// limits over the chance. The predictions are taken as known. Above a
/// variance of 10 000 the limits come from the refined normal law, to about 1e-6; tails and p-values are always exact.
/// `None` when a chance lies outside [0, 1], `observed` exceeds their number or the level is not strictly between 0 and 1.
/// Limits are `None` inside when certain chances (0 or 1) make the count impossible.
/// Source: tail inversion as in Clopper and Pearson, Biometrika 1934;26:404-413; the law, Hong,
/// Comput Stat Data Anal 2013;59:41-51.
pub fn observed_against_expected(
    observed: u64,
    chances: &[f64],
    level: f64,
) -> Option<ObservedExpected> {
    if !(level > 0.0 && level < 1.0) || observed > chances.len() as u64 {
        return None;
    }
    let law = PoissonBinomial::new(chances)?;
    // In a settled order, so that sums do not depend on the order of the rows.
    let mut chances = chances.to_vec();
    chances.sort_by(f64::total_cmp);
    let (expected, variance) = (law.mean(), law.variance());
    let (p_at_most, p_at_least) = (law.at_most(observed), law.at_least(observed));
    let own = law.probability(observed);
    let tail = (1.0 - level) / 2.0;
    let over_expected = |count: f64| (expected > 0.0).then(|| count / expected);
    let allowed = law
        .quantile(tail)
        .zip(law.quantile(1.0 - tail))
        .and_then(|(low, high)| {
            Some(ConfidenceLimits {
                lower: over_expected(low as f64)?,
                upper: over_expected(high as f64)?,
            })
        });
    let limits = count_limits(observed, &chances, &law, tail).and_then(|count| {
        Some(ConfidenceLimits {
            lower: over_expected(count.lower)?,
            upper: over_expected(count.upper)?,
        })
    });
    Some(ObservedExpected {
        observed,
        n: chances.len(),
        expected,
        variance,
        ratio: over_expected(observed as f64),
        limits,
        z: (variance > 0.0).then(|| (observed as f64 - expected) / variance.sqrt()),
        p_at_most,
        p_at_least,
        p_two_sided: (2.0 * p_at_most.min(p_at_least)).min(1.0),
        p_mid: (2.0 * (p_at_most.min(p_at_least) - 0.5 * own)).clamp(0.0, 1.0),
        allowed,
        level,
    })
}

/// Sums of the chances moved to the two factors of the odds at which the observed tail equals `tail`.
fn count_limits(
    observed: u64,
    chances: &[f64],
    law: &PoissonBinomial,
    tail: f64,
) -> Option<ConfidenceLimits> {
    let n_certain = chances.iter().filter(|chance| **chance == 1.0).count() as u64;
    let n_possible = chances.iter().filter(|chance| **chance > 0.0).count() as u64;
    if observed < n_certain || observed > n_possible {
        return None;
    }
    let lower = match observed.checked_sub(1) {
        Some(before) if observed > n_certain => moved_sum(observed, chances, law, |moved| {
            tail_score(1.0 - at_most(moved, before)?, tail)
        })?,
        _ => n_certain as f64,
    };
    let upper = if observed == n_possible {
        n_possible as f64
    } else {
        moved_sum(observed, chances, law, |moved| {
            tail_score(at_most(moved, observed)?, tail)
        })?
    };
    Some(ConfidenceLimits { lower, upper })
}

/// Difference between a tail and the wanted one in normal quantiles, where tails change almost evenly.
fn tail_score(reached: f64, wanted: f64) -> Option<f64> {
    let reached = reached.clamp(1e-15, 1.0 - 1e-15);
    Some(normal_quantile(reached)? - normal_quantile(wanted)?)
}

/// Above this variance (40 000 people or more) the limits use the skewness-corrected normal law, which moves them by less
/// than 1e-6.
const LARGEST_EXACT_VARIANCE: f64 = 1e4;

/// P(X <= `count`): exact, or for very many people by the refined normal approximation (Volkova, Theory Probab Appl
/// 1996;40:791-794; Hong 2013, section 2.4).
fn at_most(chances: &[f64], count: u64) -> Option<f64> {
    let variance: f64 = chances.iter().map(|chance| chance * (1.0 - chance)).sum();
    if variance <= LARGEST_EXACT_VARIANCE {
        return Some(PoissonBinomial::new(chances)?.at_most(count));
    }
    let mean: f64 = chances.iter().sum();
    let third: f64 = chances
        .iter()
        .map(|chance| chance * (1.0 - chance) * (1.0 - 2.0 * chance))
        .sum();
    let x = (count as f64 + 0.5 - mean) / variance.sqrt();
    let density = (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt();
    let skewness = third / variance.powf(1.5);
    Some(normal_probability(x, Tail::Lower) + skewness * (1.0 - x * x) * density / 6.0)
}

/// Log factors beyond this move every chance to 0 or 1.
const FARTHEST_LOG_FACTOR: f64 = 1600.0;

fn moved_sum(
    observed: u64,
    chances: &[f64],
    law: &PoissonBinomial,
    excess: impl Fn(&[f64]) -> Option<f64>,
) -> Option<f64> {
    let at_log_factor = |log_factor: f64| excess(&moved(chances, log_factor)).unwrap_or(f64::NAN);
    // The log factor lies near (observed - expected) / variance, give or take some 1 / sqrt(variance).
    let mut reach = (6.0 / law.variance().sqrt()).min(FARTHEST_LOG_FACTOR);
    let centre = ((observed as f64 - law.mean()) / law.variance()).clamp(-50.0, 50.0);
    let log_factor = loop {
        if let Some(root) = crossing(at_log_factor, centre - reach, centre + reach, 1e-14 * reach) {
            break root;
        }
        if reach >= FARTHEST_LOG_FACTOR {
            return None;
        }
        reach = (reach * 3.0).min(FARTHEST_LOG_FACTOR);
    };
    Some(moved(chances, log_factor).iter().sum())
}

/// Chances whose odds are multiplied by e^`log_factor`.
fn moved(chances: &[f64], log_factor: f64) -> Vec<f64> {
    chances
        .iter()
        .map(|&chance| {
            if chance == 0.0 || chance == 1.0 {
                return chance;
            }
            let log_odds = chance.ln() - (-chance).ln_1p() + log_factor;
            1.0 / (1.0 + (-log_odds).exp())
        })
        .collect()
}
