//! Cholesky factor of a symmetric matrix whose rows begin late: only what lies between the first entry of a row and its
//! diagonal is held and filled (George and Liu 1981, Computer Solution of Large Sparse Positive Definite Systems, ch. 4).

/// Lower triangle by rows, each from its first column to the diagonal.
#[derive(Debug, Clone)]
pub(crate) struct Skyline {
    first: Vec<usize>,
    offset: Vec<usize>,
    values: Vec<f64>,
}

/// A pivot below this share of its diagonal leaves its coordinate undetermined.
const SMALLEST_PIVOT: f64 = 1e-11;

impl Skyline {
    /// `first` gives the first column of each row, at most the row itself.
    pub(crate) fn zero(first: Vec<usize>) -> Skyline {
        let mut offset = Vec::with_capacity(first.len() + 1);
        let mut total = 0;
        for (row, first) in first.iter().enumerate() {
            offset.push(total);
            total += row - first + 1;
        }
        Skyline {
            first,
            offset,
            values: vec![0.0; total],
        }
    }

    /// Multiplications a factor would take.
    pub(crate) fn cost(first: &[usize]) -> f64 {
        first
            .iter()
            .enumerate()
            .map(|(row, first)| ((row - first) as f64).powi(2))
            .sum()
    }

    pub(crate) fn add(&mut self, row: usize, column: usize, value: f64) {
        let cell = self.offset[row] + column - self.first[row];
        self.values[cell] += value;
    }

    fn row(&self, row: usize) -> &[f64] {
        let start = self.offset[row];
        &self.values[start..=start + row - self.first[row]]
    }

    /// Factors in place. Coordinates whose pivot vanishes are marked and held at 0 by [`Factor::solve`].
    pub(crate) fn factor(mut self) -> Factor {
        let n_rows = self.first.len();
        let mut is_undetermined = vec![false; n_rows];
        for row in 0..n_rows {
            let (done, rest) = self.values.split_at_mut(self.offset[row]);
            let first = self.first[row];
            let own = &mut rest[..=row - first];
            let diagonal = own[row - first];
            let mut pivot = diagonal;
            for column in first..row {
                let other_first = self.first[column];
                let from = first.max(other_first);
                let other = &done[self.offset[column]..=self.offset[column] + column - other_first];
                let known: f64 = own[from - first..column - first]
                    .iter()
                    .zip(&other[from - other_first..column - other_first])
                    .map(|(a, b)| a * b)
                    .sum();
                let cell = if is_undetermined[column] {
                    0.0
                } else {
                    (own[column - first] - known) / other[column - other_first]
                };
                own[column - first] = cell;
                pivot -= cell * cell;
            }
            if pivot > SMALLEST_PIVOT * diagonal {
                own[row - first] = pivot.sqrt();
            } else {
                own.fill(0.0);
                own[row - first] = 1.0;
                is_undetermined[row] = true;
            }
        }
        Factor {
            lower: self,
            is_undetermined,
        }
    }
}

/// A factored matrix.
#[derive(Debug, Clone)]
pub(crate) struct Factor {
    lower: Skyline,
    is_undetermined: Vec<bool>,
}

impl Factor {
    pub(crate) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x = right.to_vec();
        for row in 0..x.len() {
            if self.is_undetermined[row] {
                x[row] = 0.0;
                continue;
            }
            let first = self.lower.first[row];
            let cells = self.lower.row(row);
            let known: f64 = cells[..row - first]
                .iter()
                .zip(&x[first..row])
                .map(|(a, b)| a * b)
                .sum();
            x[row] = (x[row] - known) / cells[row - first];
        }
        for row in (0..x.len()).rev() {
            if self.is_undetermined[row] {
                continue;
            }
            let first = self.lower.first[row];
            let cells = self.lower.row(row);
            x[row] /= cells[row - first];
            let value = x[row];
            for (cell, known) in cells[..row - first].iter().zip(&mut x[first..row]) {
                *known -= cell * value;
            }
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chain_is_solved_and_a_repeated_row_is_undetermined() {
        // [2 -1 0; -1 2 -1; 0 -1 2] x = [1 0 1] gives x = 1
        let mut chain = Skyline::zero(vec![0, 0, 1]);
        for row in 0..3 {
            chain.add(row, row, 2.0);
        }
        chain.add(1, 0, -1.0);
        chain.add(2, 1, -1.0);
        for value in chain.factor().solve(&[1.0, 0.0, 1.0]) {
            assert!((value - 1.0).abs() < 1e-14);
        }
        let mut singular = Skyline::zero(vec![0, 0]);
        for (row, column) in [(0, 0), (1, 0), (1, 1)] {
            singular.add(row, column, 1.0);
        }
        assert_eq!(singular.factor().is_undetermined, vec![false, true]);
    }
}
