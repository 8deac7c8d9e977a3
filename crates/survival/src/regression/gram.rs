//! Weighted sums of products of covariates over all rows.

use crate::halves::in_halves;

/// Rows handled at a time: their columns stay in the nearest cache.
const BLOCK: usize = 128;
/// Sums kept side by side, so that additions need not wait for one another.
const LANES: usize = 8;

/// Sum over rows of weight times x x', packed by lower triangle. `values` holds the rows one after the other.
pub(crate) fn weighted_products(values: &[f64], n_terms: usize, weights: &[f64]) -> Vec<f64> {
    let [mut packed, others] = in_halves(weights.len(), |rows| {
        let values = &values[rows.start * n_terms..rows.end * n_terms];
        products_of_part(values, n_terms, &weights[rows])
    });
    for (cell, other) in packed.iter_mut().zip(others) {
        *cell += other;
    }
    packed
}

fn products_of_part(values: &[f64], n_terms: usize, weights: &[f64]) -> Vec<f64> {
    let mut packed = vec![0.0; n_terms * (n_terms + 1) / 2];
    if n_terms == 0 {
        return packed;
    }
    let mut columns = vec![0.0; n_terms * BLOCK];
    let mut scaled = [0.0; BLOCK];
    for (rows, weights) in values.chunks(BLOCK * n_terms).zip(weights.chunks(BLOCK)) {
        for (place, row) in rows.chunks_exact(n_terms).enumerate() {
            for (column, value) in columns.chunks_exact_mut(BLOCK).zip(row) {
                column[place] = *value;
            }
        }
        let n_rows = weights.len();
        let mut cells = packed.iter_mut();
        for (row, column) in columns.chunks_exact(BLOCK).enumerate() {
            for ((scaled, value), weight) in scaled.iter_mut().zip(column).zip(weights) {
                *scaled = weight * value;
            }
            for (other, cell) in columns
                .chunks_exact(BLOCK)
                .take(row + 1)
                .zip(cells.by_ref())
            {
                *cell += dot(&scaled[..n_rows], &other[..n_rows]);
            }
        }
    }
    packed
}

fn dot(left: &[f64], right: &[f64]) -> f64 {
    let mut sums = [0.0; LANES];
    let (left_chunks, right_chunks) = (left.chunks_exact(LANES), right.chunks_exact(LANES));
    let rest: f64 = left_chunks
        .remainder()
        .iter()
        .zip(right_chunks.remainder())
        .map(|(a, b)| a * b)
        .sum();
    for (left, right) in left_chunks.zip(right_chunks) {
        for ((sum, a), b) in sums.iter_mut().zip(left).zip(right) {
            *sum += a * b;
        }
    }
    rest + sums.iter().sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::weighted_products;

    #[test]
    fn products_over_whole_and_broken_blocks_are_those_of_the_definition() {
        for n_rows in [1, 7, 128, 300] {
            let values: Vec<f64> = (0..2 * n_rows)
                .map(|place| ((place * 37) % 11) as f64 - 5.0)
                .collect();
            let weights: Vec<f64> = (0..n_rows).map(|row| (row % 3) as f64).collect();
            let sum = |a: usize, b: usize| -> f64 {
                (0..n_rows)
                    .map(|row| weights[row] * values[2 * row + a] * values[2 * row + b])
                    .sum()
            };
            assert_eq!(
                weighted_products(&values, 2, &weights),
                vec![sum(0, 0), sum(0, 1), sum(1, 1)]
            );
        }
    }
}
