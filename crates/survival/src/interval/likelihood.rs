//! The log likelihood of masses on innermost intervals, and its slope.

use crate::interval::innermost::{Innermost, Span};

/// Spans up to this many intervals are added up directly, which keeps the digits a difference of sums would lose.
const SHORT_SPAN: usize = 8;

/// Probability of every span.
pub(crate) fn span_probabilities(innermost: &Innermost, masses: &[f64]) -> Vec<f64> {
    let mut before = Vec::with_capacity(masses.len() + 1);
    let mut total = 0.0;
    before.push(0.0);
    for mass in masses {
        total += mass;
        before.push(total);
    }
    innermost
        .spans
        .iter()
        .map(|&Span { first, last, .. }| {
            let (first, last) = (first as usize, last as usize);
            if last - first < SHORT_SPAN {
                masses[first..=last].iter().sum()
            } else {
                before[last + 1] - before[first]
            }
        })
        .collect()
}

/// Sum of weight times log probability; minus infinity where a span has none.
pub(crate) fn log_likelihood(innermost: &Innermost, probabilities: &[f64]) -> f64 {
    innermost
        .spans
        .iter()
        .zip(probabilities)
        .map(|(span, &probability)| {
            if probability > 0.0 {
                span.weight * probability.ln()
            } else {
                f64::NEG_INFINITY
            }
        })
        .sum()
}

/// Slope in each mass: the sum, over the spans that cover it, of weight over probability. At the maximum it is the total
/// weight where there is mass, and no larger anywhere (Karush-Kuhn-Tucker; Gentleman and Geyer, Biometrika
/// 1994;81:618-623, eq. 3).
pub(crate) fn slopes(innermost: &Innermost, probabilities: &[f64]) -> Vec<f64> {
    let n_intervals = innermost.lower.len();
    let mut change = vec![0.0; n_intervals + 1];
    let mut own = vec![0.0; n_intervals];
    for (span, probability) in innermost.spans.iter().zip(probabilities) {
        let slope = span.weight / probability;
        if span.first == span.last {
            own[span.first as usize] += slope;
        } else {
            change[span.first as usize] += slope;
            change[span.last as usize + 1] -= slope;
        }
    }
    let mut running = 0.0;
    own.iter()
        .zip(&change)
        .map(|(own, change)| {
            running += change;
            running + own
        })
        .collect()
}
