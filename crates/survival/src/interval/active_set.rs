//! The last stretch to the maximum: Newton's method on the intervals that hold mass, which join and leave one by one.
//!
//! In the cumulative masses at the support the second derivative is sparse: a row that covers support points i+1 to j adds
//! to three cells, (i,i), (j,j) and (i,j). So the factor costs little, and the answer is good to rounding.

use crate::interval::innermost::Innermost;
use crate::interval::likelihood::{log_likelihood, slopes, span_probabilities};
use crate::interval::skyline::{Factor, Skyline};

/// Excess of a slope over the total weight, as a share of it, at which the maximum is certified.
pub(crate) const CERTIFIED_EXCESS: f64 = 1e-10;
const MOST_ROUNDS: usize = 200;
const MOST_STEPS: usize = 2000;
const MOST_HALVINGS: usize = 40;
/// Multiplications of one factor beyond which only expectation steps are made.
const LARGEST_FACTOR: f64 = 3e9;

/// Masses at the maximum.
pub(crate) struct Solution {
    pub(crate) masses: Vec<f64>,
    /// Largest slope over the total weight, less 1; 0 or a hair above at a maximum.
    pub(crate) largest_excess: f64,
    /// Whether other masses, on the intervals that may hold any at the maximum, give the same likelihood.
    pub(crate) is_unique: bool,
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
        is_unique: is_unique(innermost, &masses, &slope),
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

/// Newton steps on the present support until nothing is left to gain. Returns the number of steps.
fn climb(innermost: &Innermost, masses: &mut Vec<f64>) -> usize {
    let mut n_steps = 0;
    let mut value = log_likelihood(innermost, &span_probabilities(innermost, masses));
    loop {
        n_steps += 1;
        let support: Vec<usize> = (0..masses.len())
            .filter(|&place| masses[place] > 0.0)
            .collect();
        let Some(change) = newton_change(innermost, masses, &support) else {
            return n_steps;
        };
        let reach = support
            .iter()
            .zip(&change.masses)
            .filter(|&(_, &change)| change < 0.0)
            .map(|(&place, change)| masses[place] / -change)
            .fold(1.0, f64::min);
        let mut share = reach;
        let mut is_gained = false;
        for _ in 0..MOST_HALVINGS {
            let mut candidate = masses.clone();
            for (&place, change) in support.iter().zip(&change.masses) {
                let next = masses[place] + share * change;
                // the one that sets the reach lands on zero but for rounding
                candidate[place] = if next <= 1e-15 * masses[place] {
                    0.0
                } else {
                    next
                };
            }
            let candidate_value =
                log_likelihood(innermost, &span_probabilities(innermost, &candidate));
            if candidate_value >= value - 1e-15 * value.abs() {
                *masses = candidate;
                value = candidate_value;
                is_gained = true;
                break;
            }
            share *= 0.5;
        }
        let is_settled = change.gain <= 1e-22 * innermost.total_weight
            || (reach == 1.0 && change.gain <= 1e-13 * innermost.total_weight);
        if !is_gained || is_settled || n_steps >= MOST_STEPS {
            renormalise(masses);
            return n_steps;
        }
    }
}

fn renormalise(masses: &mut [f64]) {
    let total: f64 = masses.iter().sum();
    for mass in masses {
        *mass /= total;
    }
}

struct Change {
    /// Change of each support mass for a full step.
    masses: Vec<f64>,
    /// Newton decrement: twice the likelihood a full step promises.
    gain: f64,
}

/// Rows as runs of support points: after `low` up to `high` of the cumulative masses.
struct Run {
    low: usize,
    high: usize,
    weight: f64,
}

fn runs(innermost: &Innermost, support: &[usize]) -> Vec<Run> {
    let mut n_before = vec![0_u32; innermost.lower.len() + 1];
    for &place in support {
        n_before[place + 1] = 1;
    }
    for place in 1..n_before.len() {
        n_before[place] += n_before[place - 1];
    }
    innermost
        .spans
        .iter()
        .map(|span| Run {
            low: n_before[span.first as usize] as usize,
            high: n_before[span.last as usize + 1] as usize,
            weight: span.weight,
        })
        .collect()
}

/// The negative second derivative in the cumulative masses, factored; `None` where that would take too long.
fn factored(runs: &[Run], probabilities: &[f64], n_support: usize) -> Option<Factor> {
    let n_free = n_support.saturating_sub(1);
    let mut first: Vec<usize> = (0..n_free).collect();
    for run in runs
        .iter()
        .filter(|run| run.low > 0 && run.high < n_support && run.low < run.high)
    {
        first[run.high - 1] = first[run.high - 1].min(run.low - 1);
    }
    if Skyline::cost(&first) > LARGEST_FACTOR {
        return None;
    }
    let mut matrix = Skyline::zero(first);
    for (run, probability) in runs
        .iter()
        .zip(probabilities)
        .filter(|(run, _)| run.low < run.high)
    {
        let curvature = run.weight / (probability * probability);
        let (has_low, has_high) = (run.low > 0, run.high < n_support);
        if has_low {
            matrix.add(run.low - 1, run.low - 1, curvature);
        }
        if has_high {
            matrix.add(run.high - 1, run.high - 1, curvature);
        }
        if has_low && has_high {
            matrix.add(run.high - 1, run.low - 1, -curvature);
        }
    }
    Some(matrix.factor())
}

fn newton_change(innermost: &Innermost, masses: &[f64], support: &[usize]) -> Option<Change> {
    let n_support = support.len();
    let runs = runs(innermost, support);
    let probabilities = span_probabilities(innermost, masses);
    let factor = factored(&runs, &probabilities, n_support)?;
    let mut gradient = vec![0.0; n_support.saturating_sub(1)];
    for (run, probability) in runs.iter().zip(&probabilities) {
        let slope = run.weight / probability;
        if run.low > 0 {
            gradient[run.low - 1] -= slope;
        }
        if run.high < n_support {
            gradient[run.high - 1] += slope;
        }
    }
    let step = factor.solve(&gradient);
    let gain = step
        .iter()
        .zip(&gradient)
        .map(|(step, slope)| step * slope)
        .sum();
    let mut before = 0.0;
    let changes = step.iter().copied().chain([0.0]).map(|step| {
        let change = step - before;
        before = step;
        change
    });
    Some(Change {
        masses: changes.collect(),
        gain,
    })
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

/// The likelihood is strictly concave in the probabilities of the rows, so those are unique; the masses are where the
/// second derivative over all intervals of full slope has full rank (Gentleman and Geyer 1994, section 3).
fn is_unique(innermost: &Innermost, masses: &[f64], slope: &[f64]) -> bool {
    let full = innermost.total_weight * (1.0 - 1e-7);
    let support: Vec<usize> = (0..masses.len())
        .filter(|&place| masses[place] > 0.0 || slope[place] >= full)
        .collect();
    let probabilities = span_probabilities(innermost, masses);
    factored(&runs(innermost, &support), &probabilities, support.len())
        .is_some_and(|factor| !factor.is_undetermined.contains(&true))
}
