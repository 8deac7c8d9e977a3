//! The infinitesimal jackknife of occupancies at all times, without a term for each subject and time.
//!
//! A cluster's influence is U = R - sum over states of W_s Z_s: W_s its weight at risk in state s, Z_s what a unit of weight
//! at risk in s is expected to add (the same for all), R the rest, which only flows between states like
//! everybody. So the sum of squares of U needs three small matrices of sums, carried across each time with a move, and a
//! change only when a row enters or leaves. A cluster's own R is brought up to date when it is needed, through a tree of products.

use super::flow::{Flow, Moves};
use super::products::Products;
use super::{Influences, Matrix};

/// Sums over clusters, and the coefficients of each.
struct Clusters<'flow> {
    n_states: usize,
    products: &'flow Products,
    rest: Vec<f64>,
    weight: Vec<f64>,
    /// Moves that each cluster's rest has been carried across.
    carried: Vec<u32>,
    rest_rest: Matrix,
    /// Row s: sum over clusters of W_s R.
    weight_rest: Matrix,
    weight_weight: Matrix,
}

impl<'flow> Clusters<'flow> {
    fn new(n_states: usize, n_clusters: usize, products: &'flow Products) -> Self {
        Self {
            n_states,
            products,
            rest: vec![0.0; n_states * n_clusters],
            weight: vec![0.0; n_states * n_clusters],
            carried: vec![0; n_clusters],
            rest_rest: Matrix::zero(n_states),
            weight_rest: Matrix::zero(n_states),
            weight_weight: Matrix::zero(n_states),
        }
    }

    /// Carries the sums across a time with a move.
    fn carry(&mut self, moves: &Moves) {
        self.rest_rest.carry_both(moves);
        self.weight_rest.carry_rows(moves);
    }

    /// Adds to the rest and to the weight in one state of a cluster; `n_moves` moves have happened by now.
    fn change(
        &mut self,
        cluster: u32,
        n_moves: u32,
        rest_change: &[f64],
        state: usize,
        weight_change: f64,
    ) {
        let place = cluster as usize;
        let span = place * self.n_states..(place + 1) * self.n_states;
        let parts = self
            .rest
            .get_mut(span.clone())
            .zip(self.weight.get_mut(span));
        let Some(((rest, weight), carried)) = parts.zip(self.carried.get_mut(place)) else {
            return;
        };
        if *carried < n_moves && rest.iter().any(|&part| part != 0.0) {
            self.products
                .carry(rest, *carried as usize, n_moves as usize);
        }
        *carried = n_moves;
        self.rest_rest.add_outer(rest, rest_change);
        self.rest_rest.add_outer(rest_change, rest);
        self.rest_rest.add_outer(rest_change, rest_change);
        self.weight_rest.add_outer(weight, rest_change);
        for (rest, change) in rest.iter_mut().zip(rest_change) {
            *rest += change;
        }
        if weight_change != 0.0 {
            self.weight_rest.add_to_row(state, rest, weight_change);
            let mut unit = vec![0.0; self.n_states];
            if let Some(cell) = unit.get_mut(state) {
                *cell = weight_change;
            }
            self.weight_weight.add_outer(weight, &unit);
            self.weight_weight.add_outer(&unit, weight);
            self.weight_weight.add_outer(&unit, &unit);
            if let Some(weight) = weight.get_mut(state) {
                *weight += weight_change;
            }
        }
    }

    /// Sum of squared influences on one state.
    fn squares(&self, expected: &[Vec<f64>], state: usize) -> f64 {
        let of = |place: usize| {
            expected
                .get(place)
                .and_then(|row| row.get(state))
                .copied()
                .unwrap_or(0.0)
        };
        let mut sum = self.rest_rest.at(state, state);
        for left in 0..self.n_states {
            sum -= 2.0 * self.weight_rest.at(left, state) * of(left);
            for right in 0..self.n_states {
                sum += self.weight_weight.at(left, right) * of(left) * of(right);
            }
        }
        sum.max(0.0)
    }
}

/// Variances of all occupancies: at the origin, then at each distinct time, `n_states` numbers each.
pub(super) fn robust_variances(flow: &Flow, influences: &Influences<'_>) -> Vec<Vec<f64>> {
    let n_states = flow.n_states;
    let products = Products::new(&flow.moves, n_states);
    let mut clusters = Clusters::new(n_states, influences.movements.n_clusters, &products);
    let no_change = vec![0.0; n_states];
    for start in &influences.starts {
        let mut rest_change: Vec<f64> = flow.initial.iter().map(|share| -share).collect();
        if let Some(cell) = rest_change.get_mut(start.state) {
            *cell += 1.0;
        }
        for cell in &mut rest_change {
            *cell *= start.weight / flow.n_initial;
        }
        clusters.change(start.cluster, 0, &rest_change, start.state, 0.0);
    }
    let mut expected = vec![no_change.clone(); n_states];
    let mut occupancy = flow.initial.clone();
    let mut n_moves = 0_u32;
    let all = |clusters: &Clusters<'_>, expected: &[Vec<f64>]| -> Vec<f64> {
        (0..n_states)
            .map(|state| clusters.squares(expected, state))
            .collect()
    };
    let mut variances = vec![all(&clusters, &expected)];
    for position in 0..flow.order.times.len() {
        for row in influences.movements.entering(position) {
            let state = influences.state_of(row);
            let change: Vec<f64> = expected.get(state).map_or_else(
                || no_change.clone(),
                |row_of| row_of.iter().map(|cell| row.weight * cell).collect(),
            );
            clusters.change(row.cluster, n_moves, &change, state, row.weight);
        }
        let moves = flow
            .moves
            .get(n_moves as usize)
            .filter(|moves| moves.position == position);
        // what one at risk in each state has at stake: occupancy over number at risk
        let stakes: Option<Vec<f64>> = moves.map(|moves| {
            clusters.carry(moves);
            n_moves += 1;
            let stakes: Vec<f64> = occupancy
                .iter()
                .zip(&moves.n_at_risk)
                .map(|(share, &n_at_risk)| {
                    if n_at_risk > 0.0 {
                        share / n_at_risk
                    } else {
                        0.0
                    }
                })
                .collect();
            for (state, (row, &stake)) in expected.iter_mut().zip(&stakes).enumerate() {
                moves.carry(row);
                moves.spread(state, stake, row);
            }
            moves.carry(&mut occupancy);
            stakes
        });
        for row in influences.movements.leaving(position) {
            let state = influences.state_of(row);
            let mut change: Vec<f64> = expected.get(state).map_or_else(
                || no_change.clone(),
                |row_of| row_of.iter().map(|cell| -cell).collect(),
            );
            let stake = stakes
                .as_ref()
                .and_then(|stakes| stakes.get(state))
                .copied()
                .unwrap_or(0.0);
            if let Some(target) = influences.target_of(row) {
                for (place, cell) in change.iter_mut().enumerate() {
                    if place == target {
                        *cell += stake;
                    } else if place == state {
                        *cell -= stake;
                    }
                }
            }
            for cell in &mut change {
                *cell *= row.weight;
            }
            clusters.change(row.cluster, n_moves, &change, state, -row.weight);
        }
        let now = if stakes.is_some() {
            all(&clusters, &expected)
        } else {
            // without a move nothing changes, to the last digit
            variances.last().cloned().unwrap_or_default()
        };
        variances.push(now);
    }
    variances
}
