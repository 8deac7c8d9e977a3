//! A small square matrix, one row and column for each state.

use super::flow::Moves;

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Matrix {
    n: usize,
    cells: Vec<f64>,
}

impl Matrix {
    pub(super) fn zero(n: usize) -> Self {
        Self {
            n,
            cells: vec![0.0; n * n],
        }
    }

    pub(super) fn identity(n: usize) -> Self {
        let mut matrix = Self::zero(n);
        for cell in matrix.cells.iter_mut().step_by(n + 1) {
            *cell = 1.0;
        }
        matrix
    }

    pub(super) fn at(&self, row: usize, column: usize) -> f64 {
        self.cells
            .get(row * self.n + column)
            .copied()
            .unwrap_or(0.0)
    }

    fn rows(&self) -> std::slice::Chunks<'_, f64> {
        self.cells.chunks(self.n.max(1))
    }

    /// Adds the product of a column and a row of numbers.
    pub(super) fn add_outer(&mut self, left: &[f64], right: &[f64]) {
        for (row, left) in self.cells.chunks_mut(self.n.max(1)).zip(left) {
            if *left != 0.0 {
                for (cell, right) in row.iter_mut().zip(right) {
                    *cell += left * right;
                }
            }
        }
    }

    /// Adds a multiple of a row of numbers to one row.
    pub(super) fn add_to_row(&mut self, place: usize, row: &[f64], factor: f64) {
        let cells = self.cells.iter_mut().skip(place * self.n).take(self.n);
        for (cell, add) in cells.zip(row) {
            *cell += factor * add;
        }
    }

    /// Carries each row across a time with moves.
    pub(super) fn carry_rows(&mut self, moves: &Moves) {
        for row in self.cells.chunks_mut(self.n.max(1)) {
            moves.carry(row);
        }
    }

    /// Carries rows and columns of a symmetric matrix across a time with moves.
    pub(super) fn carry_both(&mut self, moves: &Moves) {
        self.carry_rows(moves);
        self.transpose();
        self.carry_rows(moves);
    }

    fn transpose(&mut self) {
        for row in 0..self.n {
            for column in 0..row {
                self.cells
                    .swap(row * self.n + column, column * self.n + row);
            }
        }
    }

    pub(super) fn times(&self, right: &Matrix) -> Matrix {
        let mut cells = Vec::with_capacity(self.cells.len());
        for row in self.rows() {
            let mut row = row.to_vec();
            right.carry_row(&mut row);
            cells.extend(row);
        }
        Matrix { n: self.n, cells }
    }

    /// Multiplies a row of numbers with the matrix, in place.
    pub(super) fn carry_row(&self, row: &mut [f64]) {
        let before = row.to_vec();
        row.fill(0.0);
        for (amount, cells) in before.iter().zip(self.rows()) {
            if *amount != 0.0 {
                for (cell, factor) in row.iter_mut().zip(cells) {
                    *cell += amount * factor;
                }
            }
        }
    }
}
