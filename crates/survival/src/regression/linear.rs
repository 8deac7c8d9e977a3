//! The little linear algebra a regression needs: a square matrix and a Cholesky factor with a pivot test.
//!
//! Written out rather than taken from a library: models here have at most some dozens of terms, and the pivot
//! test, which finds the redundant terms by name, is the part that matters and the part libraries leave out.

/// A small square matrix, rows one after the other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SquareMatrix {
    pub(crate) dimension: usize,
    pub(crate) values: Vec<f64>,
}

impl SquareMatrix {
    pub(crate) fn zero(dimension: usize) -> SquareMatrix {
        SquareMatrix {
            dimension,
            values: vec![0.0; dimension * dimension],
        }
    }

    pub(crate) fn get(&self, row: usize, column: usize) -> f64 {
        self.values[row * self.dimension + column]
    }

    pub(crate) fn set(&mut self, row: usize, column: usize, value: f64) {
        self.values[row * self.dimension + column] = value;
    }

    pub(crate) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.values[row * self.dimension + column] += value;
    }

    /// A symmetric matrix from its lower triangle, packed by rows.
    pub(crate) fn from_packed_lower(dimension: usize, packed: &[f64]) -> SquareMatrix {
        let mut matrix = SquareMatrix::zero(dimension);
        let mut cells = packed.iter();
        for row in 0..dimension {
            for column in 0..=row {
                let value = cells.next().copied().unwrap_or(0.0);
                matrix.set(row, column, value);
                matrix.set(column, row, value);
            }
        }
        matrix
    }

    /// Adds `scale * left * right'`.
    pub(crate) fn add_outer(&mut self, scale: f64, left: &[f64], right: &[f64]) {
        for (row, &a) in left.iter().enumerate() {
            for (column, &b) in right.iter().enumerate() {
                self.add(row, column, scale * a * b);
            }
        }
    }

    pub(crate) fn times_vector(&self, vector: &[f64]) -> Vec<f64> {
        (0..self.dimension)
            .map(|row| {
                (0..self.dimension)
                    .map(|column| self.get(row, column) * vector[column])
                    .sum()
            })
            .collect()
    }

    pub(crate) fn times(&self, other: &SquareMatrix) -> SquareMatrix {
        let mut product = SquareMatrix::zero(self.dimension);
        for row in 0..self.dimension {
            for inner in 0..self.dimension {
                let a = self.get(row, inner);
                for column in 0..self.dimension {
                    product.add(row, column, a * other.get(inner, column));
                }
            }
        }
        product
    }

    fn transposed(&self) -> SquareMatrix {
        let mut transposed = SquareMatrix::zero(self.dimension);
        for row in 0..self.dimension {
            for column in 0..self.dimension {
                transposed.set(column, row, self.get(row, column));
            }
        }
        transposed
    }

    /// `self * middle * self'` for a symmetric middle.
    pub(crate) fn sandwich(&self, middle: &SquareMatrix) -> SquareMatrix {
        let mut product = self.times(middle).times(&self.transposed());
        for row in 0..self.dimension {
            for column in 0..row {
                let mean = 0.5 * (product.get(row, column) + product.get(column, row));
                product.set(row, column, mean);
                product.set(column, row, mean);
            }
        }
        product
    }

    /// `vector' * self * vector`.
    pub(crate) fn quadratic_form(&self, vector: &[f64]) -> f64 {
        self.times_vector(vector)
            .iter()
            .zip(vector)
            .map(|(a, b)| a * b)
            .sum()
    }
}

/// Lower Cholesky factor of a symmetric non-negative matrix. A row whose pivot shrinks below `tolerance` times its
/// own diagonal is a combination of the rows before it: it is marked redundant and left out, so that every solution
/// has 0 there (Golub and Van Loan, Matrix Computations, 4th ed., 4.2.8, without interchange so that the later of two
/// equal columns is the one named).
#[derive(Debug, Clone)]
pub(crate) struct Cholesky {
    lower: SquareMatrix,
    pub(crate) is_redundant: Vec<bool>,
}

impl Cholesky {
    /// `left_out` marks rows to be treated as redundant from the start.
    pub(crate) fn of(matrix: &SquareMatrix, tolerance: f64, left_out: &[bool]) -> Cholesky {
        let dimension = matrix.dimension;
        let mut lower = SquareMatrix::zero(dimension);
        let mut is_redundant = vec![false; dimension];
        for row in 0..dimension {
            if left_out.get(row).copied().unwrap_or(false) {
                is_redundant[row] = true;
                continue;
            }
            for column in (0..row).filter(|&column| !is_redundant[column]) {
                let known: f64 = (0..column)
                    .map(|k| lower.get(row, k) * lower.get(column, k))
                    .sum();
                let cell = (matrix.get(row, column) - known) / lower.get(column, column);
                lower.set(row, column, cell);
            }
            let known: f64 = (0..row).map(|k| lower.get(row, k).powi(2)).sum();
            let pivot = matrix.get(row, row) - known;
            let is_usable = pivot > tolerance * matrix.get(row, row) && pivot > f64::MIN_POSITIVE;
            if is_usable {
                lower.set(row, row, pivot.sqrt());
            } else {
                is_redundant[row] = true;
                for column in 0..row {
                    lower.set(row, column, 0.0);
                }
            }
        }
        Cholesky {
            lower,
            is_redundant,
        }
    }

    /// Solves `matrix * x = right`, with 0 in redundant places.
    pub(crate) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let dimension = self.lower.dimension;
        let mut x = right.to_vec();
        for row in 0..dimension {
            if self.is_redundant[row] {
                x[row] = 0.0;
                continue;
            }
            let known: f64 = (0..row).map(|k| self.lower.get(row, k) * x[k]).sum();
            x[row] = (x[row] - known) / self.lower.get(row, row);
        }
        for row in (0..dimension).rev() {
            if self.is_redundant[row] {
                continue;
            }
            let known: f64 = (row + 1..dimension)
                .map(|k| self.lower.get(k, row) * x[k])
                .sum();
            x[row] = (x[row] - known) / self.lower.get(row, row);
        }
        x
    }

    /// The inverse over the rows that are not redundant, 0 elsewhere.
    pub(crate) fn inverse(&self) -> SquareMatrix {
        let dimension = self.lower.dimension;
        let mut inverse = SquareMatrix::zero(dimension);
        for column in (0..dimension).filter(|&column| !self.is_redundant[column]) {
            let mut unit = vec![0.0; dimension];
            unit[column] = 1.0;
            for (row, value) in self.solve(&unit).into_iter().enumerate() {
                inverse.set(row, column, value);
            }
        }
        inverse
    }

    /// Logarithm of the determinant over the rows that are not redundant.
    pub(crate) fn log_determinant(&self) -> f64 {
        (0..self.lower.dimension)
            .filter(|&row| !self.is_redundant[row])
            .map(|row| 2.0 * self.lower.get(row, row).ln())
            .sum()
    }

    /// Rows that are not redundant.
    pub(crate) fn rank(&self) -> usize {
        self.is_redundant
            .iter()
            .filter(|&&is_redundant| !is_redundant)
            .count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_later_of_two_equal_rows_is_redundant_and_solves_to_zero() {
        let matrix = SquareMatrix {
            dimension: 3,
            values: vec![4.0, 2.0, 4.0, 2.0, 3.0, 2.0, 4.0, 2.0, 4.0],
        };
        let factor = Cholesky::of(&matrix, 1e-12, &[]);
        assert_eq!(factor.is_redundant, vec![false, false, true]);
        // 4x + 2y = 8, 2x + 3y = 8 gives x = 1, y = 2
        let x = factor.solve(&[8.0, 8.0, 8.0]);
        assert!((x[0] - 1.0).abs() < 1e-14 && (x[1] - 2.0).abs() < 1e-14 && x[2] == 0.0);
    }

    #[test]
    fn inverse_times_matrix_is_the_identity() {
        let matrix = SquareMatrix {
            dimension: 2,
            values: vec![2.0, -1.0, -1.0, 3.0],
        };
        let product = Cholesky::of(&matrix, 1e-12, &[]).inverse().times(&matrix);
        for (cell, expected) in product.values.iter().zip([1.0, 0.0, 0.0, 1.0]) {
            assert!((cell - expected).abs() < 1e-15);
        }
    }
}
