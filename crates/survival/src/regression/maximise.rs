//! Newton's method with step halving for a smooth log likelihood, and the two ways in which it has no maximum.

use crate::regression::{Cholesky, Estimability, ModelTest, SquareMatrix, wald_test};

/// A log likelihood at a point: its value, gradient, and observed information (minus the second derivative).
#[derive(Debug, Clone)]
pub(crate) struct Evaluation {
    pub(crate) value: f64,
    pub(crate) gradient: Vec<f64>,
    pub(crate) information: SquareMatrix,
    /// What steps are taken by where the value holds more than the likelihood that the information is of: positive definite.
    pub(crate) curvature: Option<SquareMatrix>,
}

impl Evaluation {
    fn for_steps(&self) -> &SquareMatrix {
        self.curvature.as_ref().unwrap_or(&self.information)
    }
}

/// Where the likelihood is largest, and what was met on the way.
#[derive(Debug, Clone)]
pub(crate) struct Maximum {
    pub(crate) coefficients: Vec<f64>,
    pub(crate) start: Evaluation,
    pub(crate) at_maximum: Evaluation,
    pub(crate) is_redundant: Vec<bool>,
    /// Under separation, the Newton step on the plateau: the direction in which the likelihood rises for ever.
    pub(crate) endless_step: Option<Vec<f64>>,
    pub(crate) n_iterations: usize,
    pub(crate) has_converged: bool,
}

impl Maximum {
    /// Inverse of the information over the coordinates that are not redundant, zero elsewhere. Under separation only the
    /// parts that have a finite estimate mean anything.
    pub(crate) fn model_covariance(&self) -> SquareMatrix {
        Cholesky::of(
            &self.at_maximum.information,
            SMALLEST_PIVOT_LATER,
            &self.is_redundant,
        )
        .inverse()
    }

    /// How many of the coordinates from a place on are not redundant.
    pub(crate) fn n_estimable_from(&self, place: usize) -> usize {
        let own = self.is_redundant.iter().skip(place);
        own.filter(|&&is_redundant| !is_redundant).count()
    }

    /// Twice the gain of the largest log likelihood over that of a smaller model.
    pub(crate) fn likelihood_ratio(&self, null: f64) -> f64 {
        2.0 * (self.at_maximum.value - null).max(0.0)
    }

    /// The Wald test of all coefficients under a covariance; `None` under separation.
    pub(crate) fn wald_test(&self, covariance: &SquareMatrix) -> Option<ModelTest> {
        let is_finite = self.endless_step.is_none();
        is_finite.then(|| wald_test(&self.coefficients, covariance, &self.is_redundant))
    }
}

/// What can be said of coefficients that move by `endless_step` for ever, if any do, over columns of these ranges.
pub(crate) fn estimability(
    is_redundant: &[bool],
    endless_step: Option<&[f64]>,
    ranges: &[f64],
) -> Vec<Estimability> {
    is_redundant
        .iter()
        .enumerate()
        .map(|(position, &is_redundant)| {
            let reach = endless_step.map_or(0.0, |step| step[position] * ranges[position]);
            if is_redundant {
                Estimability::Redundant
            } else if reach > NOTICEABLE_STEP {
                Estimability::GrowsWithoutBound
            } else if reach < -NOTICEABLE_STEP {
                Estimability::FallsWithoutBound
            } else {
                Estimability::Estimated
            }
        })
        .collect()
}

/// A pivot below this share of its diagonal at the start means a redundant column: with standardised columns it is one
/// less the squared multiple correlation with the columns before.
const SMALLEST_PIVOT_AT_START: f64 = 1e-11;
/// Away from the start a likelihood that is flattening out may legitimately have very small pivots.
const SMALLEST_PIVOT_LATER: f64 = 1e-14;
const MOST_ITERATIONS: usize = 100;
/// Steps that only shrink the error may creep along a flat ridge: a table of seven rows has been seen to need 950.
const MOST_LINEAR_ITERATIONS: usize = 5000;
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
/// Of the coordinates on a plateau those that move by less than this stand still.
const NOTICEABLE_STEP: f64 = 0.01;

/// How fast steps of the given information arrive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Convergence {
    /// The information is minus the second derivative: near the maximum the error is squared by each step.
    Quadratic,
    /// What steps are taken by is only near it: the error shrinks by a factor.
    Linear,
}

/// Maximises from `start`. `ranges` gives the largest less the smallest value of each column.
pub(crate) fn maximise(
    start: Vec<f64>,
    ranges: &[f64],
    convergence: Convergence,
    mut evaluate: impl FnMut(&[f64]) -> Evaluation,
) -> Maximum {
    let at_start = evaluate(&start);
    let is_redundant =
        Cholesky::of(&at_start.information, SMALLEST_PIVOT_AT_START, &[]).is_redundant;
    let mut coefficients = start;
    let mut current = at_start.clone();
    let mut endless_step = None;
    let mut n_iterations = 0;
    let mut has_converged = false;
    let mut is_last_step_taken = false;
    let most_iterations = match convergence {
        Convergence::Quadratic => MOST_ITERATIONS,
        Convergence::Linear => MOST_LINEAR_ITERATIONS,
    };
    while n_iterations < most_iterations {
        let factor = Cholesky::of(current.for_steps(), SMALLEST_PIVOT_LATER, &is_redundant);
        let step = factor.solve(&current.gradient);
        let decrement: f64 = step
            .iter()
            .zip(&current.gradient)
            .map(|(step, slope)| step * slope)
            .sum();
        let moves_on = step
            .iter()
            .zip(ranges)
            .any(|(step, range)| (step * range).abs() > STEP_ON_A_PLATEAU);
        if decrement < DECREMENT_OF_A_PLATEAU && moves_on {
            endless_step = Some(step);
            has_converged = true;
            break;
        }
        if decrement <= DECREMENT_OF_NOTHING || is_last_step_taken {
            has_converged = decrement.is_finite();
            break;
        }
        is_last_step_taken =
            convergence == Convergence::Quadratic && decrement <= DECREMENT_OF_LAST_STEP;
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
        is_redundant,
        endless_step,
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
