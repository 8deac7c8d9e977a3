//! The approach to the maximum: expectation steps in turn with isotonic ones.

use crate::interval::innermost::Innermost;
use crate::interval::likelihood::{log_likelihood, slopes, span_probabilities};

/// Rounds of one expectation and one isotonic step. The active set takes over from there; more rounds only cost time.
const MOST_ROUNDS: usize = 60;
/// Share of the total weight by which a slope may exceed it when the active set takes over.
const NEAR_ENOUGH: f64 = 1e-3;
const MOST_HALVINGS: usize = 20;

/// Masses near the maximum, many of them exactly 0 (Wellner and Zhan, JASA 1997;92:945-959: expectation steps in turn with
/// the iterative convex minorant).
pub(crate) fn approach(innermost: &Innermost) -> Vec<f64> {
    let n_intervals = innermost.lower.len();
    let mut masses = vec![1.0 / n_intervals as f64; n_intervals];
    for _ in 0..MOST_ROUNDS {
        let probabilities = span_probabilities(innermost, &masses);
        let slope = slopes(innermost, &probabilities);
        // expectation step (Turnbull 1976, eq. 3.4)
        for (mass, slope) in masses.iter_mut().zip(&slope) {
            *mass *= slope / innermost.total_weight;
        }
        masses = isotonic_step(innermost, masses);
        let slope = slopes(innermost, &span_probabilities(innermost, &masses));
        let excess = slope.iter().fold(0.0_f64, |largest, slope| {
            largest.max(slope / innermost.total_weight - 1.0)
        });
        if excess < NEAR_ENOUGH {
            break;
        }
    }
    masses
}

/// One Newton step in the cumulative masses with a diagonal second derivative, kept increasing, halved until it gains.
fn isotonic_step(innermost: &Innermost, masses: Vec<f64>) -> Vec<f64> {
    let n_free = masses.len() - 1;
    let probabilities = span_probabilities(innermost, &masses);
    let start = log_likelihood(innermost, &probabilities);
    let slope = slopes(innermost, &probabilities);
    let mut curvature = vec![0.0; n_free];
    for (span, probability) in innermost.spans.iter().zip(&probabilities) {
        let own = span.weight / (probability * probability);
        if span.first > 0 {
            curvature[span.first as usize - 1] += own;
        }
        if let Some(cell) = curvature.get_mut(span.last as usize) {
            *cell += own;
        }
    }
    let mut cumulative = 0.0;
    let mut targets = Vec::with_capacity(n_free);
    let mut weights = Vec::with_capacity(n_free);
    for place in 0..n_free {
        cumulative += masses[place];
        let weight = curvature[place].max(f64::MIN_POSITIVE);
        targets.push(cumulative + (slope[place] - slope[place + 1]) / weight);
        weights.push(weight);
    }
    let fitted = increasing(&targets, &weights);
    let mut aim = Vec::with_capacity(masses.len());
    let mut before = 0.0;
    for value in fitted
        .iter()
        .map(|value| value.clamp(0.0, 1.0))
        .chain([1.0])
    {
        aim.push(value - before);
        before = value;
    }
    let mut share = 1.0;
    for _ in 0..MOST_HALVINGS {
        let candidate: Vec<f64> = masses
            .iter()
            .zip(&aim)
            .map(|(from, to)| {
                if share == 1.0 {
                    *to
                } else {
                    from + share * (to - from)
                }
            })
            .collect();
        if log_likelihood(innermost, &span_probabilities(innermost, &candidate)) > start {
            return candidate;
        }
        share *= 0.5;
    }
    masses
}

/// Weighted least squares fit that never falls: pool adjacent violators (Barlow et al. 1972, Statistical Inference under
/// Order Restrictions, section 1.2).
fn increasing(values: &[f64], weights: &[f64]) -> Vec<f64> {
    struct Block {
        mean: f64,
        weight: f64,
        length: usize,
    }
    let mut blocks: Vec<Block> = Vec::new();
    for (&mean, &weight) in values.iter().zip(weights) {
        let mut block = Block {
            mean,
            weight,
            length: 1,
        };
        while let Some(last) = blocks.pop_if(|last| last.mean >= block.mean) {
            let weight = last.weight + block.weight;
            block = Block {
                mean: last.mean + (block.mean - last.mean) * (block.weight / weight),
                weight,
                length: last.length + block.length,
            };
        }
        blocks.push(block);
    }
    blocks
        .iter()
        .flat_map(|block| std::iter::repeat_n(block.mean, block.length))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::increasing;

    #[test]
    fn neighbours_out_of_order_share_their_weighted_mean() {
        // 4 and 1 with weights 1 and 2 pool to 2; 3 stands
        assert_eq!(
            increasing(&[4.0, 1.0, 3.0], &[1.0, 2.0, 1.0]),
            vec![2.0, 2.0, 3.0]
        );
    }
}
