//! The last stretch to the maximum: Newton's method on the intervals that hold mass, which join and leave one by one.

use crate::interval::curvature::{Change, newton_change};
use crate::interval::innermost::Innermost;
use crate::interval::likelihood::{log_likelihood, slopes, span_probabilities};

/// Excess of a slope over the total weight, as a share of it, at which the maximum is certified.
pub(crate) const CERTIFIED_EXCESS: f64 = 1e-10;
const MOST_ROUNDS: usize = 200;
const MOST_STEPS: usize = 2000;
const MOST_HALVINGS: usize = 40;
/// Share of a log likelihood below which a loss is rounding: the last steps promise less than can be seen in the sum.
const ROUNDING: f64 = 1e-12;
/// Full steps that gain nothing but may still level the slopes of very small masses.
const MOST_IDLE_STEPS: usize = 8;

/// Masses at the maximum.
pub(crate) struct Solution {
    pub(crate) masses: Vec<f64>,
    /// Largest slope over the total weight, less 1; 0 or a hair above at a maximum.
    pub(crate) largest_excess: f64,
    pub(crate) n_steps: usize,
}

pub(crate) fn polish(innermost: &Innermost, mut masses: Vec<f64>) -> Solution {
    let mut n_steps = 0;
    for _ in 0..MOST_ROUNDS {
        n_steps += climb(innermost, &mut masses);
        let probabilities = span_probabilities(innermost, &masses);
        let slope = slopes(innermost, &probabilities);
        if excess(innermost, &slope) <= CERTIFIED_EXCESS
            || n_steps >= MOST_STEPS
            || !take_in(innermost, &mut masses, &slope)
        {
            break;
        }
    }
    let slope = slopes(innermost, &span_probabilities(innermost, &masses));
    Solution {
        largest_excess: excess(innermost, &slope),
        masses,
        n_steps,
    }
}

fn excess(innermost: &Innermost, slope: &[f64]) -> f64 {
    slope.iter().fold(f64::NEG_INFINITY, |largest, slope| {
        largest.max(slope / innermost.total_weight - 1.0)
    })
}

/// Newton steps on the present support until the slopes are level. Returns the number of steps.
fn climb(innermost: &Innermost, masses: &mut Vec<f64>) -> usize {
    let mut n_steps = 0;
    let mut n_idle = 0;
    let mut value = log_likelihood(innermost, &span_probabilities(innermost, masses));
    while n_steps < MOST_STEPS && n_idle < MOST_IDLE_STEPS {
        n_steps += 1;
        let support: Vec<usize> = (0..masses.len())
            .filter(|&place| masses[place] > 0.0)
            .collect();
        let change = newton_change(innermost, masses, &support);
        let reach = support
            .iter()
            .zip(&change.masses)
            .filter(|&(_, &change)| change < 0.0)
            .map(|(&place, change)| masses[place] / -change)
            .fold(1.0, f64::min);
        let Some(next) = step_along(innermost, masses, &support, &change, reach, value) else {
            break;
        };
        *masses = next.masses;
        value = next.value;
        let is_idle = reach == 1.0 && change.gain <= 1e-13 * innermost.total_weight;
        n_idle = if is_idle { n_idle + 1 } else { 0 };
        if is_idle && is_level(innermost, masses) {
            break;
        }
    }
    let total: f64 = masses.iter().sum();
    for mass in masses.iter_mut() {
        *mass /= total;
    }
    n_steps
}

/// Whether the slope is the total weight at every support point.
fn is_level(innermost: &Innermost, masses: &[f64]) -> bool {
    let slope = slopes(innermost, &span_probabilities(innermost, masses));
    slope
        .iter()
        .zip(masses)
        .filter(|&(_, &mass)| mass > 0.0)
        .all(|(slope, _)| (slope / innermost.total_weight - 1.0).abs() <= 0.5 * CERTIFIED_EXCESS)
}

struct Step {
    masses: Vec<f64>,
    value: f64,
}

/// The step to where the first mass vanishes, halved until the likelihood does not fall.
fn step_along(
    innermost: &Innermost,
    masses: &[f64],
    support: &[usize],
    change: &Change,
    reach: f64,
    value: f64,
) -> Option<Step> {
    let mut share = reach;
    for _ in 0..MOST_HALVINGS {
        let mut candidate = masses.to_vec();
        for (&place, change) in support.iter().zip(&change.masses) {
            let next = masses[place] + share * change;
            // the one that sets the reach lands on zero but for rounding
            candidate[place] = if next <= 1e-15 * masses[place] {
                0.0
            } else {
                next
            };
        }
        let candidate_value = log_likelihood(innermost, &span_probabilities(innermost, &candidate));
        if candidate_value >= value - ROUNDING * value.abs() {
            return Some(Step {
                masses: candidate,
                value: candidate_value,
            });
        }
        share *= 0.5;
    }
    None
}

/// Between each two support points, lets the interval of largest slope take some mass (Wang, JRSS B 2007;69:185-198,
/// section 3.1), as much as the likelihood gains by. Returns whether any did.
fn take_in(innermost: &Innermost, masses: &mut Vec<f64>, slope: &[f64]) -> bool {
    let enough = innermost.total_weight * (1.0 + 0.5 * CERTIFIED_EXCESS);
    let mut joining: Vec<usize> = Vec::new();
    let mut best: Option<usize> = None;
    for place in 0..masses.len() {
        if masses[place] > 0.0 {
            joining.extend(best.take());
        } else if slope[place] > enough && best.is_none_or(|best| slope[place] > slope[best]) {
            best = Some(place);
        }
    }
    joining.extend(best);
    if joining.is_empty() {
        return false;
    }
    let total: f64 = joining
        .iter()
        .map(|&place| slope[place] - innermost.total_weight)
        .sum();
    let start = log_likelihood(innermost, &span_probabilities(innermost, masses));
    let mut share = 0.1;
    for _ in 0..MOST_HALVINGS {
        let mut candidate: Vec<f64> = masses.iter().map(|mass| mass * (1.0 - share)).collect();
        for &place in &joining {
            candidate[place] = share * (slope[place] - innermost.total_weight) / total;
        }
        if log_likelihood(innermost, &span_probabilities(innermost, &candidate)) > start {
            *masses = candidate;
            return true;
        }
        share *= 0.25;
    }
    false
}
