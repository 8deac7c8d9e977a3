//! The one bit of linear algebra the tests need: a quadratic form with the inverse of a covariance.

/// v' M^- v and the rank of M.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct InverseForm {
    pub(crate) value: f64,
    pub(crate) rank: usize,
}

/// Computes v' M^- v for a symmetric, positive semidefinite M by elimination with the largest remaining pivot.
///
/// Score covariances are singular (the scores add up to 0) and have empty rows where a group is never at risk; pivots
/// below 1e-9 of the largest diagonal count as 0. `None` when all do.
pub(crate) fn inverse_form(matrix: &[Vec<f64>], vector: &[f64]) -> Option<InverseForm> {
    let mut matrix: Vec<Vec<f64>> = matrix.to_vec();
    let mut vector = vector.to_vec();
    let diagonal = |matrix: &[Vec<f64>], place: usize| {
        matrix
            .get(place)
            .and_then(|row| row.get(place))
            .copied()
            .unwrap_or(0.0)
    };
    let n = vector.len();
    let largest = (0..n)
        .map(|place| diagonal(&matrix, place))
        .fold(0.0, f64::max);
    let mut left: Vec<usize> = (0..n).collect();
    let mut found = InverseForm {
        value: 0.0,
        rank: 0,
    };
    while let Some(at) = (0..left.len()).max_by(|&a, &b| {
        let of = |at: usize| left.get(at).map_or(0.0, |&place| diagonal(&matrix, place));
        // the first of equals, so that the answer does not depend on rounding
        of(a).total_cmp(&of(b)).then(b.cmp(&a))
    }) {
        let pivot_place = left.swap_remove(at);
        let pivot = diagonal(&matrix, pivot_place);
        if pivot.is_nan() || pivot <= 1e-9 * largest {
            break;
        }
        let pivot_row = matrix.get(pivot_place).cloned().unwrap_or_default();
        let pivot_value = vector.get(pivot_place).copied().unwrap_or(0.0);
        found.value += pivot_value * pivot_value / pivot;
        found.rank += 1;
        for &place in &left {
            let factor = pivot_row.get(place).copied().unwrap_or(0.0) / pivot;
            if let Some(row) = matrix.get_mut(place) {
                for (entry, from_pivot) in row.iter_mut().zip(&pivot_row) {
                    *entry -= factor * from_pivot;
                }
            }
            if let Some(value) = vector.get_mut(place) {
                *value -= factor * pivot_value;
            }
        }
    }
    (found.rank > 0).then_some(found)
}
