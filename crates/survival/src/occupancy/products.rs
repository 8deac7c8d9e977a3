//! Products of transition matrices over any run of moves, in logarithmic time.

use super::Matrix;
use super::flow::Moves;

/// A tree whose leaves are the single moves and whose inner nodes are products of two neighbours.
pub(super) struct Products {
    n_leaves: usize,
    nodes: Vec<Matrix>,
}

impl Products {
    pub(super) fn new(moves: &[Moves], n_states: usize) -> Self {
        let n_leaves = moves.len().next_power_of_two();
        let mut nodes = vec![Matrix::identity(n_states); 2 * n_leaves];
        for (node, moves) in nodes.iter_mut().skip(n_leaves).zip(moves) {
            node.carry_rows(moves);
        }
        for place in (1..n_leaves).rev() {
            let product = nodes
                .get(2 * place)
                .zip(nodes.get(2 * place + 1))
                .map(|(left, right)| left.times(right));
            if let Some((node, product)) = nodes.get_mut(place).zip(product) {
                *node = product;
            }
        }
        Self { n_leaves, nodes }
    }

    /// Carries a row across the moves from `first` up to, not with, `end`.
    pub(super) fn carry(&self, row: &mut [f64], first: usize, end: usize) {
        let (mut left, mut right) = (first + self.n_leaves, end + self.n_leaves);
        let mut from_the_right = Vec::new();
        while left < right {
            if left % 2 == 1 {
                self.apply(left, row);
                left += 1;
            }
            if right % 2 == 1 {
                right -= 1;
                from_the_right.push(right);
            }
            left /= 2;
            right /= 2;
        }
        for &node in from_the_right.iter().rev() {
            self.apply(node, row);
        }
    }

    fn apply(&self, node: usize, row: &mut [f64]) {
        if let Some(matrix) = self.nodes.get(node) {
            matrix.carry_row(row);
        }
    }
}
