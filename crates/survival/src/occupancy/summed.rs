//! Variances of occupancies from independent increments.

use super::Matrix;
use super::flow::{Flow, Moves};
use crate::curve::Variance;

/// Variances at the origin, then at each distinct time, `n_states` numbers each.
///
/// The covariance is carried across each time; the moves out of a state of n add occupancy^2/n times their multinomial
/// covariance (Greenwood), or that of independent Poisson counts (Aalen).
pub(super) fn variances(flow: &Flow, variance: Variance) -> Vec<Vec<f64>> {
    let n_states = flow.n_states;
    let diagonal = |matrix: &Matrix| -> Vec<f64> {
        (0..n_states)
            .map(|state| matrix.at(state, state).max(0.0))
            .collect()
    };
    let mut covariance = initial_covariance(flow);
    let mut variances = vec![diagonal(&covariance)];
    let mut occupancy = flow.initial.clone();
    let mut moves = flow.moves.iter().peekable();
    for position in 0..flow.order.times.len() {
        if let Some(moves) = moves.next_if(|moves| moves.position == position) {
            covariance.carry_both(moves);
            for (state, (&share, &n_at_risk)) in occupancy.iter().zip(&moves.n_at_risk).enumerate()
            {
                if share > 0.0 && n_at_risk > 0.0 {
                    let scale = share * share / n_at_risk;
                    add_increments(&mut covariance, moves, state, scale, variance);
                }
            }
            moves.carry(&mut occupancy);
        }
        variances.push(diagonal(&covariance));
    }
    variances
}

/// Multinomial covariance of the shares at the origin.
fn initial_covariance(flow: &Flow) -> Matrix {
    let mut covariance = Matrix::zero(flow.n_states);
    for (state, &share) in flow.initial.iter().enumerate() {
        let own: Vec<f64> = flow
            .initial
            .iter()
            .enumerate()
            .map(|(other, &other_share)| {
                let same = if state == other { 1.0 } else { 0.0 };
                share * (same - other_share) / flow.n_initial
            })
            .collect();
        covariance.add_to_row(state, &own, 1.0);
    }
    covariance
}

fn add_increments(
    covariance: &mut Matrix,
    moves: &Moves,
    state: usize,
    scale: f64,
    variance: Variance,
) {
    let n_states = moves.n_at_risk.len();
    for (target, &hazard) in moves.out_of(state, n_states).iter().enumerate() {
        if hazard > 0.0 {
            let mut step = vec![0.0; n_states];
            for (place, cell) in step.iter_mut().enumerate() {
                if place == target {
                    *cell = 1.0;
                } else if place == state {
                    *cell = -1.0;
                }
            }
            let scaled: Vec<f64> = step.iter().map(|cell| scale * hazard * cell).collect();
            covariance.add_outer(&step, &scaled);
        }
    }
    if variance != Variance::Aalen {
        let mut mean = vec![0.0; n_states];
        moves.spread(state, 1.0, &mut mean);
        let scaled: Vec<f64> = mean.iter().map(|cell| -scale * cell).collect();
        covariance.add_outer(&mean, &scaled);
    }
}
