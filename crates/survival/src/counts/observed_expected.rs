//! Observed events against the sum of predicted chances, person by person.

use serde::Serialize;

use super::ConfidenceLimits;
use super::poisson_binomial::PoissonBinomial;
use super::root::crossing;

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
/// limits over the chance. The predictions are taken as known.
/// `None` when a chance lies outside [0, 1], `observed` exceeds their number or the level is not strictly between 0 and 1.
/// Limits are `None` inside when certain chances (0 or 1) make the count impossible.
/// Source: tail inversion as in Clopper and Pearson, Biometrika 1934;26:404-413; the law, Hong, Comput Stat Data Anal 2013;59:41-51.
pub fn observed_against_expected(
    observed: u64,
    chances: &[f64],
    level: f64,
) -> Option<ObservedExpected> {
    if !(level > 0.0 && level < 1.0) || observed > chances.len() as u64 {
        return None;
    }
    let law = PoissonBinomial::new(chances)?;
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
    let limits = count_limits(observed, chances, tail).and_then(|count| {
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
fn count_limits(observed: u64, chances: &[f64], tail: f64) -> Option<ConfidenceLimits> {
    let n_certain = chances.iter().filter(|chance| **chance == 1.0).count() as u64;
    let n_possible = chances.iter().filter(|chance| **chance > 0.0).count() as u64;
    if observed < n_certain || observed > n_possible {
        return None;
    }
    let lower = if observed == n_certain {
        n_certain as f64
    } else {
        moved_sum(chances, |law| law.at_least(observed) - tail)?
    };
    let upper = if observed == n_possible {
        n_possible as f64
    } else {
        moved_sum(chances, |law| law.at_most(observed) - tail)?
    };
    Some(ConfidenceLimits { lower, upper })
}

fn moved_sum(chances: &[f64], excess: impl Fn(&PoissonBinomial) -> f64) -> Option<f64> {
    let at_log_factor = |log_factor: f64| {
        PoissonBinomial::new(&moved(chances, log_factor)).map_or(f64::NAN, |law| excess(&law))
    };
    let mut reach = 2.0;
    let log_factor = loop {
        if let Some(root) = crossing(at_log_factor, -reach, reach) {
            break root;
        }
        reach *= 4.0;
        if reach > 1500.0 {
            return None;
        }
    };
    let mut moved = moved(chances, log_factor);
    moved.sort_by(f64::total_cmp);
    Some(moved.iter().sum())
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
