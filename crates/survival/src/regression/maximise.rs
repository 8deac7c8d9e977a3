//! Newton's method with step halving for a smooth log likelihood, and the two ways in which it has no maximum.

use crate::regression::{Cholesky, Estimability, SquareMatrix};

/// A log likelihood at a point: its value, gradient, and observed information (minus the second derivative).
#[derive(Debug, Clone)]
pub(crate) struct Evaluation {
    pub(crate) value: f64,
    pub(crate) gradient: Vec<f64>,
    pub(crate) information: SquareMatrix,
}

/// Where the likelihood is largest, and what was met on the way.
#[derive(Debug, Clone)]
pub(crate) struct Maximum {
    pub(crate) coefficients: Vec<f64>,
    pub(crate) start: Evaluation,
    pub(crate) at_maximum: Evaluation,
    pub(crate) estimability: Vec<Estimability>,
    pub(crate) n_iterations: usize,
    pub(crate) has_converged: bool,
}

impl Maximum {
    /// Coordinates without a finite estimate.
    pub(crate) fn is_left_out(&self) -> Vec<bool> {
        self.estimability
            .iter()
            .map(|&state| state != Estimability::Estimated)
            .collect()
    }

    /// Coordinates that take part in the likelihood, finite or not.
    pub(crate) fn is_redundant(&self) -> Vec<bool> {
        self.estimability
            .iter()
            .map(|&state| state == Estimability::Redundant)
            .collect()
    }

    /// Inverse of the information over the estimable coordinates, zero elsewhere.
    pub(crate) fn model_covariance(&self) -> SquareMatrix {
        Cholesky::of(
            &self.at_maximum.information,
            SMALLEST_PIVOT_LATER,
            &self.is_left_out(),
        )
        .inverse()
    }
}

/// A pivot below this share of its diagonal at the start means a redundant column: with standardised columns it is one
/// less the squared multiple correlation with the columns before.
const SMALLEST_PIVOT_AT_START: f64 = 1e-11;
/// Away from the start a likelihood that is flattening out may legitimately have very small pivots.
const SMALLEST_PIVOT_LATER: f64 = 1e-14;
const MOST_ITERATIONS: usize = 100;
const MOST_HALVINGS: usize = 40;
/// Newton decrement (twice the likelihood still to gain) after which one more step is exact to rounding.
const DECREMENT_OF_LAST_STEP: f64 = 1e-10;
/// Newton decrement below which nothing is left to gain.
const DECREMENT_OF_NOTHING: f64 = 1e-20;
/// If less than this is still to be gained ...
const DECREMENT_OF_A_PLATEAU: f64 = 1e-8;
/// ... and the step still moves the linear predictor by more than this between two rows, the likelihood climbs a
/// plateau for ever: under separation every step is about 1, in a regular problem it would be below 1e-4.
const STEP_ON_A_PLATEAU: f64 = 0.05;

/// Maximises from `start`. `ranges` gives the largest less the smallest value of each column.
pub(crate) fn maximise(
    start: Vec<f64>,
    ranges: &[f64],
    mut evaluate: impl FnMut(&[f64]) -> Evaluation,
) -> Maximum {
    let at_start = evaluate(&start);
    let is_redundant =
        Cholesky::of(&at_start.information, SMALLEST_PIVOT_AT_START, &[]).is_redundant;
    let mut estimability: Vec<Estimability> = is_redundant
        .iter()
        .map(|&is_redundant| {
            if is_redundant {
                Estimability::Redundant
            } else {
                Estimability::Estimated
            }
        })
        .collect();
    let mut coefficients = start;
    let mut current = at_start.clone();
    let mut n_iterations = 0;
    let mut has_converged = false;
    let mut is_last_step_taken = false;
    while n_iterations < MOST_ITERATIONS {
        let factor = Cholesky::of(&current.information, SMALLEST_PIVOT_LATER, &is_redundant);
        let step = factor.solve(&current.gradient);
        let decrement: f64 = step
            .iter()
            .zip(&current.gradient)
            .map(|(step, slope)| step * slope)
            .sum();
        let reach = |position: usize| step[position] * ranges.get(position).copied().unwrap_or(1.0);
        let is_on_plateau = decrement < DECREMENT_OF_A_PLATEAU
            && (0..step.len()).any(|position| reach(position).abs() > STEP_ON_A_PLATEAU);
        if is_on_plateau {
            for (position, state) in estimability.iter_mut().enumerate() {
                if reach(position) > STEP_ON_A_PLATEAU * 0.2 {
                    *state = Estimability::GrowsWithoutBound;
                } else if reach(position) < -STEP_ON_A_PLATEAU * 0.2 {
                    *state = Estimability::FallsWithoutBound;
                }
            }
            has_converged = true;
            break;
        }
        if decrement <= DECREMENT_OF_NOTHING || is_last_step_taken {
            has_converged = decrement.is_finite();
            break;
        }
        is_last_step_taken = decrement <= DECREMENT_OF_LAST_STEP;
        let Some(next) = improve(&coefficients, &step, &current, &mut evaluate) else {
            has_converged = decrement <= DECREMENT_OF_A_PLATEAU;
            break;
        };
        coefficients = next.coefficients;
        current = next.evaluation;
        n_iterations += 1;
    }
    Maximum {
        coefficients,
        start: at_start,
        at_maximum: current,
        estimability,
        n_iterations,
        has_converged,
    }
}

struct Improvement {
    coefficients: Vec<f64>,
    evaluation: Evaluation,
}

/// The Newton step, halved until the likelihood no longer falls.
fn improve(
    from: &[f64],
    step: &[f64],
    current: &Evaluation,
    evaluate: &mut impl FnMut(&[f64]) -> Evaluation,
) -> Option<Improvement> {
    let slack = 1e-12 * (1.0 + current.value.abs());
    let mut share = 1.0;
    for _ in 0..MOST_HALVINGS {
        let coefficients: Vec<f64> = from
            .iter()
            .zip(step)
            .map(|(from, step)| from + share * step)
            .collect();
        let evaluation = evaluate(&coefficients);
        let is_usable = evaluation.value.is_finite()
            && evaluation.gradient.iter().all(|slope| slope.is_finite());
        if is_usable && evaluation.value >= current.value - slack {
            return Some(Improvement {
                coefficients,
                evaluation,
            });
        }
        share *= 0.5;
    }
    None
}
