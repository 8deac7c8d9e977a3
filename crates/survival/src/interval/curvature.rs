//! Newton directions in the cumulative masses at the support.
//!
//! There the second derivative is sparse: a row that covers support points i+1 to j adds to three cells, (i,i), (j,j) and
//! (i,j). Where rows are short against the whole the skyline factor costs little; where many are long and the support is
//! large, conjugate gradients take its place.

use crate::interval::innermost::Innermost;
use crate::interval::likelihood::span_probabilities;
use crate::interval::skyline::Skyline;

/// Multiplications of a factor beyond which conjugate gradients are used.
const LARGEST_FACTOR: f64 = 1e8;
const MOST_GRADIENTS: usize = 400;
/// Residual, against that of the start, at which conjugate gradients stop; Newton's method makes good the rest.
const RESIDUAL: f64 = 1e-9;

/// A Newton step on the support.
pub(crate) struct Change {
    /// Change of each support mass for a full step.
    pub(crate) masses: Vec<f64>,
    /// Newton decrement: twice the likelihood a full step promises.
    pub(crate) gain: f64,
}

/// A row as a difference of cumulative masses: that at `high` less that at `low`, in support points counted from 1; 0 and
/// the last are fixed at 0 and 1.
struct Run {
    low: usize,
    high: usize,
    slope: f64,
    curvature: f64,
}

pub(crate) fn newton_change(innermost: &Innermost, masses: &[f64], support: &[usize]) -> Change {
    let n_free = support.len().saturating_sub(1);
    let runs = runs(innermost, masses, support);
    let mut gradient = vec![0.0; n_free];
    for run in &runs {
        if run.low > 0 {
            gradient[run.low - 1] -= run.slope;
        }
        if run.high <= n_free {
            gradient[run.high - 1] += run.slope;
        }
    }
    let step = solve(&runs, &gradient);
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
    Change {
        masses: changes.collect(),
        gain,
    }
}

fn runs(innermost: &Innermost, masses: &[f64], support: &[usize]) -> Vec<Run> {
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
        .zip(span_probabilities(innermost, masses))
        .map(|(span, probability)| {
            let slope = span.weight / probability;
            Run {
                low: n_before[span.first as usize] as usize,
                high: n_before[span.last as usize + 1] as usize,
                slope,
                curvature: slope / probability,
            }
        })
        .filter(|run| run.low < run.high)
        .collect()
}

fn solve(runs: &[Run], gradient: &[f64]) -> Vec<f64> {
    let n_free = gradient.len();
    let mut first: Vec<usize> = (0..n_free).collect();
    for run in runs.iter().filter(|run| run.low > 0 && run.high <= n_free) {
        first[run.high - 1] = first[run.high - 1].min(run.low - 1);
    }
    if Skyline::cost(&first) > LARGEST_FACTOR {
        return conjugate_gradients(runs, gradient);
    }
    let mut matrix = Skyline::zero(first);
    for run in runs {
        let (has_low, has_high) = (run.low > 0, run.high <= n_free);
        if has_low {
            matrix.add(run.low - 1, run.low - 1, run.curvature);
        }
        if has_high {
            matrix.add(run.high - 1, run.high - 1, run.curvature);
        }
        if has_low && has_high {
            matrix.add(run.high - 1, run.low - 1, -run.curvature);
        }
    }
    matrix.factor().solve(gradient)
}

/// Conjugate gradients with the tridiagonal part as preconditioner (Golub and Van Loan, Matrix Computations, 4th ed.,
/// algorithm 11.5.1).
fn conjugate_gradients(runs: &[Run], gradient: &[f64]) -> Vec<f64> {
    let tridiagonal = Tridiagonal::of(runs, gradient.len());
    let mut x = vec![0.0; gradient.len()];
    let mut residual = gradient.to_vec();
    let mut preconditioned = tridiagonal.solve(&residual);
    let mut direction = preconditioned.clone();
    let mut size = dot(&residual, &preconditioned);
    let enough = size * RESIDUAL * RESIDUAL;
    for _ in 0..MOST_GRADIENTS {
        if size <= enough {
            break;
        }
        let image = times(runs, &direction);
        let share = size / dot(&direction, &image);
        for (x, direction) in x.iter_mut().zip(&direction) {
            *x += share * direction;
        }
        for (residual, image) in residual.iter_mut().zip(&image) {
            *residual -= share * image;
        }
        preconditioned = tridiagonal.solve(&residual);
        let next = dot(&residual, &preconditioned);
        for (direction, preconditioned) in direction.iter_mut().zip(&preconditioned) {
            *direction = preconditioned + next / size * *direction;
        }
        size = next;
    }
    x
}

fn dot(left: &[f64], right: &[f64]) -> f64 {
    left.iter().zip(right).map(|(a, b)| a * b).sum()
}

/// The negative second derivative times a vector.
fn times(runs: &[Run], vector: &[f64]) -> Vec<f64> {
    let mut product = vec![0.0; vector.len()];
    for run in runs {
        let low = run.low.checked_sub(1);
        let at_low = low.map_or(0.0, |low| vector[low]);
        let at_high = vector.get(run.high - 1).copied().unwrap_or(0.0);
        let push = run.curvature * (at_high - at_low);
        if let Some(cell) = product.get_mut(run.high - 1) {
            *cell += push;
        }
        if let Some(low) = low {
            product[low] -= push;
        }
    }
    product
}

/// Factor L D L' of the diagonal and its neighbours; diagonally dominant, so that no pivot vanishes.
struct Tridiagonal {
    pivots: Vec<f64>,
    below: Vec<f64>,
}

impl Tridiagonal {
    fn of(runs: &[Run], n_free: usize) -> Tridiagonal {
        let mut pivots = vec![0.0; n_free];
        let mut below = vec![0.0; n_free];
        for run in runs {
            if run.low > 0 {
                pivots[run.low - 1] += run.curvature;
            }
            if run.high <= n_free {
                pivots[run.high - 1] += run.curvature;
                if run.low > 0 && run.low + 1 == run.high {
                    below[run.high - 1] -= run.curvature;
                }
            }
        }
        for row in 1..n_free {
            let share = below[row] / pivots[row - 1];
            pivots[row] -= share * below[row];
            below[row] = share;
        }
        Tridiagonal { pivots, below }
    }

    fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x = right.to_vec();
        for row in 1..x.len() {
            x[row] -= self.below[row] * x[row - 1];
        }
        for (x, pivot) in x.iter_mut().zip(&self.pivots) {
            *x /= pivot;
        }
        for row in (1..x.len()).rev() {
            x[row - 1] -= self.below[row] * x[row];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conjugate_gradients_solve_what_the_factor_solves() {
        let run = |low, high, curvature| Run {
            low,
            high,
            slope: 1.0,
            curvature,
        };
        let runs = [
            run(0, 1, 2.0),
            run(1, 2, 1.0),
            run(0, 3, 0.5),
            run(2, 4, 3.0),
            run(1, 4, 0.2),
            run(3, 5, 1.5),
            run(2, 3, 0.7),
        ];
        let gradient = [1.0, -2.0, 0.5, 0.25];
        for (direct, iterated) in solve(&runs, &gradient)
            .iter()
            .zip(conjugate_gradients(&runs, &gradient))
        {
            assert!((direct - iterated).abs() < 1e-9, "{direct} {iterated}");
        }
    }
}
