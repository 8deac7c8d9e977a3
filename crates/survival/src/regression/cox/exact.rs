//! The exact partial likelihood of discrete times.
//!
//! At a time with d events the likelihood is the chance that just these d of those at risk have it, given that d do. The
//! denominator, a sum over all subsets of d, is an elementary symmetric polynomial and is grown one subject at a time
//! (Gail, Lubin and Rubinstein, Biometrika 1981;68:703-707, eq. 3), with its first and second derivatives.

use crate::SurvivalError;
use crate::regression::cox::arrange::Arranged;
use crate::regression::{Evaluation, SquareMatrix};

/// Additions beyond which the exact likelihood is refused: some ten seconds.
const MOST_ADDITIONS: f64 = 2e10;

/// Elementary symmetric polynomials of risks, orders 0 to `highest`, with derivatives in the coefficients.
struct Polynomials {
    n_terms: usize,
    values: Vec<f64>,
    first: Vec<Vec<f64>>,
    second: Vec<Vec<f64>>,
}

impl Polynomials {
    fn empty(highest: usize, n_terms: usize) -> Polynomials {
        let n_cells = n_terms * (n_terms + 1) / 2;
        let mut values = vec![0.0; highest + 1];
        values[0] = 1.0;
        Polynomials {
            n_terms,
            values,
            first: vec![vec![0.0; n_terms]; highest + 1],
            second: vec![vec![0.0; n_cells]; highest + 1],
        }
    }

    /// E_k gains risk * E_(k-1), and the derivatives by the product rule; highest order first, so that E_(k-1) is still old.
    fn add(&mut self, risk: f64, row: &[f64]) {
        for order in (1..self.values.len()).rev() {
            let below = self.values[order - 1];
            let (lower, upper) = self.second.split_at_mut(order);
            let (lower_first, upper_first) = self.first.split_at_mut(order);
            let (second_below, second) = (&lower[order - 1], &mut upper[0]);
            let (first_below, first) = (&lower_first[order - 1], &mut upper_first[0]);
            let mut cell = 0;
            for a in 0..self.n_terms {
                for b in 0..=a {
                    second[cell] += risk
                        * (second_below[cell]
                            + row[a] * first_below[b]
                            + row[b] * first_below[a]
                            + row[a] * row[b] * below);
                    cell += 1;
                }
            }
            for (a, slope) in first.iter_mut().enumerate() {
                *slope += risk * (first_below[a] + row[a] * below);
            }
            self.values[order] += risk * below;
        }
    }
}

/// Refuses samples whose tied risk sets are too large to sum over.
pub(crate) fn check_size(arranged: &Arranged) -> Result<(), SurvivalError> {
    let cells = (arranged.n_terms() * (arranged.n_terms() + 1) / 2 + 1) as f64;
    let additions: f64 = (0..arranged.n_strata())
        .map(|stratum| {
            let positions = arranged.stratum(stratum);
            let n_rows = positions.len() as f64;
            let ties = tie_counts(arranged, positions);
            let highest = ties.iter().copied().max().unwrap_or(0) as f64;
            let passes = if arranged.has_late_entry() {
                ties.len() as f64
            } else {
                1.0
            };
            n_rows * highest * passes * cells
        })
        .sum();
    if additions > MOST_ADDITIONS {
        Err(SurvivalError::TiesTooLarge)
    } else {
        Ok(())
    }
}

fn tie_counts(arranged: &Arranged, positions: std::ops::Range<usize>) -> Vec<usize> {
    arranged
        .leaving_together(positions)
        .into_iter()
        .map(|leaving| {
            leaving
                .filter(|&position| arranged.is_event[position])
                .count()
        })
        .filter(|&n_events| n_events > 0)
        .collect()
}

/// Log likelihood, score and information. The value is not finite where the sums leave the range of the numbers.
pub(crate) fn exact_likelihood(arranged: &Arranged, coefficients: &[f64]) -> Evaluation {
    let n_terms = arranged.n_terms();
    let predictors = arranged.linear_predictors(coefficients);
    let mut value = 0.0;
    let mut gradient = vec![0.0; n_terms];
    let mut packed = vec![0.0; n_terms * (n_terms + 1) / 2];
    for stratum in 0..arranged.n_strata() {
        let positions = arranged.stratum(stratum);
        let highest = tie_counts(arranged, positions.clone())
            .into_iter()
            .max()
            .unwrap_or(0);
        // risks are shrunk to a total of 1, which keeps the polynomials in range; d * ln(total) gives it back
        let top = positions
            .clone()
            .map(|position| predictors[position])
            .fold(f64::NEG_INFINITY, f64::max);
        let log_total = top
            + positions
                .clone()
                .map(|position| (predictors[position] - top).exp())
                .sum::<f64>()
                .ln();
        let risk_of = |position: usize| (predictors[position] - log_total).exp();
        let mut grown = Polynomials::empty(highest, n_terms);
        let mut end = positions.end;
        while end > positions.start {
            let step = arranged.exit_step(end - 1);
            let mut begin = end;
            while begin > positions.start && arranged.exit_step(begin - 1) == step {
                begin -= 1;
                if !arranged.has_late_entry() {
                    grown.add(risk_of(begin), arranged.covariates.row(begin));
                }
            }
            let events: Vec<usize> = (begin..end)
                .filter(|&position| arranged.is_event[position])
                .collect();
            if !events.is_empty() {
                if arranged.has_late_entry() {
                    grown = Polynomials::empty(events.len(), n_terms);
                    for position in (begin..positions.end)
                        .filter(|&position| arranged.entry_step(position) <= step)
                    {
                        grown.add(risk_of(position), arranged.covariates.row(position));
                    }
                }
                let d = events.len();
                for &position in &events {
                    value += predictors[position] - log_total;
                    for (slope, x) in gradient.iter_mut().zip(arranged.covariates.row(position)) {
                        *slope += x;
                    }
                }
                let total = grown.values[d];
                value -= total.ln();
                let mean: Vec<f64> = grown.first[d].iter().map(|sum| sum / total).collect();
                let mut cell = 0;
                for a in 0..n_terms {
                    gradient[a] -= mean[a];
                    for b in 0..=a {
                        packed[cell] += grown.second[d][cell] / total - mean[a] * mean[b];
                        cell += 1;
                    }
                }
            }
            end = begin;
        }
    }
    Evaluation {
        value,
        gradient,
        information: SquareMatrix::from_packed_lower(n_terms, &packed),
        curvature: None,
    }
}
