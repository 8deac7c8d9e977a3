//! The columns a regression explains an outcome with.

use crate::SurvivalError;
use crate::regression::SquareMatrix;

/// One column of a regression: a name and a value for each row.
#[derive(Debug, Clone, PartialEq)]
pub struct Covariate {
    /// Name the term is reported under.
    pub name: String,
    /// A finite value for each row.
    pub values: Vec<f64>,
}

/// Checked columns of equal length with distinct names. Order matters only where columns repeat one another: the later
/// one is then the one reported as not estimable.
#[derive(Debug, Clone, PartialEq)]
pub struct Covariates {
    columns: Vec<Covariate>,
    n_rows: usize,
}

impl Covariates {
    /// Columns for `n_rows` rows; none at all is a model without covariates.
    ///
    /// # Errors
    /// A column of another length, a value that is not finite, two columns of one name.
    pub fn new(n_rows: usize, columns: Vec<Covariate>) -> Result<Covariates, SurvivalError> {
        for (position, column) in columns.iter().enumerate() {
            if column.values.len() != n_rows {
                return Err(SurvivalError::UnequalCovariate {
                    term: column.name.clone(),
                    n_expected: n_rows,
                    n_found: column.values.len(),
                });
            }
            if let Some(row) = column.values.iter().position(|value| !value.is_finite()) {
                return Err(SurvivalError::CovariateNotFinite {
                    term: column.name.clone(),
                    row: row + 1,
                });
            }
            if columns
                .iter()
                .take(position)
                .any(|earlier| earlier.name == column.name)
            {
                return Err(SurvivalError::RepeatedTerm {
                    term: column.name.clone(),
                });
            }
        }
        Ok(Covariates { columns, n_rows })
    }

    /// Number of rows.
    pub fn n_rows(&self) -> usize {
        self.n_rows
    }

    /// The columns in order.
    pub fn columns(&self) -> &[Covariate] {
        &self.columns
    }

    /// Names in order.
    pub fn names(&self) -> Vec<String> {
        self.columns
            .iter()
            .map(|column| column.name.clone())
            .collect()
    }

    /// One row, in column order; `None` past the last row.
    pub fn row(&self, row: usize) -> Option<Vec<f64>> {
        self.columns
            .iter()
            .map(|column| column.values.get(row).copied())
            .collect::<Option<Vec<f64>>>()
            .filter(|_| row < self.n_rows)
    }

    /// The same rows with one column set to a value: what every row would look like with that covariate fixed.
    ///
    /// # Errors
    /// No column of that name, or a value that is not finite.
    pub fn with_fixed(&self, name: &str, value: f64) -> Result<Covariates, SurvivalError> {
        let mut columns = self.columns.clone();
        let column = columns
            .iter_mut()
            .find(|column| column.name == name)
            .ok_or_else(|| SurvivalError::UnknownTerm {
                term: name.to_owned(),
            })?;
        column.values = vec![value; self.n_rows];
        Covariates::new(self.n_rows, columns)
    }
}

/// Covariates centred by their mean and divided by their standard deviation, row by row in a given order. A column that
/// does not vary becomes 0 throughout.
#[derive(Debug, Clone)]
pub(crate) struct Standardised {
    pub(crate) n_terms: usize,
    /// Rows one after the other, `n_terms` values each.
    pub(crate) values: Vec<f64>,
    pub(crate) centre: Vec<f64>,
    pub(crate) scale: Vec<f64>,
    /// Largest less smallest value, in standard deviations.
    pub(crate) range: Vec<f64>,
}

/// Spread below this share of a column's size is rounding, not variation.
const SMALLEST_RELATIVE_SPREAD: f64 = 1e-12;

impl Standardised {
    /// `order` lists input rows; `weight` is by input row.
    pub(crate) fn of(
        covariates: &Covariates,
        order: &[u32],
        weight: Option<&[f64]>,
    ) -> Standardised {
        let n_terms = covariates.columns.len();
        let mut standardised = Standardised {
            n_terms,
            values: vec![0.0; order.len() * n_terms],
            centre: vec![0.0; n_terms],
            scale: vec![1.0; n_terms],
            range: vec![0.0; n_terms],
        };
        let weight_of = |row: u32| weight.map_or(1.0, |weight| weight[row as usize]);
        let total: f64 = order.iter().map(|&row| weight_of(row)).sum();
        for (term, column) in covariates.columns.iter().enumerate() {
            let value_of = |row: u32| column.values[row as usize];
            let smallest = order
                .iter()
                .map(|&row| value_of(row))
                .fold(f64::INFINITY, f64::min);
            let largest = order
                .iter()
                .map(|&row| value_of(row))
                .fold(f64::NEG_INFINITY, f64::max);
            let size = smallest.abs().max(largest.abs());
            if order.is_empty()
                || total <= 0.0
                || largest - smallest <= SMALLEST_RELATIVE_SPREAD * size
            {
                standardised.centre[term] = if order.is_empty() { 0.0 } else { smallest };
                continue;
            }
            // taken from the smallest value so that the mean of large numbers keeps its digits
            let centre = smallest
                + order
                    .iter()
                    .map(|&row| weight_of(row) * ((value_of(row) - smallest) / total))
                    .sum::<f64>();
            let spread = largest - smallest;
            let variance: f64 = order
                .iter()
                .map(|&row| weight_of(row) * ((value_of(row) - centre) / spread).powi(2))
                .sum::<f64>()
                / total;
            let scale = if variance > 0.0 {
                spread * variance.sqrt()
            } else {
                spread
            };
            standardised.centre[term] = centre;
            standardised.scale[term] = scale;
            standardised.range[term] = spread / scale;
            for (position, &row) in order.iter().enumerate() {
                standardised.values[position * n_terms + term] = (value_of(row) - centre) / scale;
            }
        }
        standardised
    }

    pub(crate) fn row(&self, position: usize) -> &[f64] {
        &self.values[position * self.n_terms..(position + 1) * self.n_terms]
    }

    /// A profile given on the scale of the input.
    pub(crate) fn standardise(&self, profile: &[f64]) -> Vec<f64> {
        (0..self.n_terms)
            .map(|term| (profile[term] - self.centre[term]) / self.scale[term])
            .collect()
    }

    /// Coefficients for a unit of the input.
    pub(crate) fn coefficients(&self, standardised: &[f64]) -> Vec<f64> {
        standardised
            .iter()
            .zip(&self.scale)
            .map(|(coefficient, scale)| coefficient / scale)
            .collect()
    }

    /// Covariance of the coefficients for a unit of the input.
    pub(crate) fn covariance(&self, standardised: &SquareMatrix) -> SquareMatrix {
        let mut covariance = standardised.clone();
        for row in 0..self.n_terms {
            for column in 0..self.n_terms {
                covariance.set(
                    row,
                    column,
                    standardised.get(row, column) / (self.scale[row] * self.scale[column]),
                );
            }
        }
        covariance
    }

    /// The map from (level at the centre, standardised coefficients) to (intercept, coefficients for a unit of the input).
    pub(crate) fn with_intercept(&self) -> SquareMatrix {
        let mut map = SquareMatrix::zero(self.n_terms + 1);
        map.set(0, 0, 1.0);
        for term in 0..self.n_terms {
            map.set(0, term + 1, -self.centre[term] / self.scale[term]);
            map.set(term + 1, term + 1, 1.0 / self.scale[term]);
        }
        map
    }

    /// Ranges of the columns on the scale of the input, after a 1 for the intercept.
    pub(crate) fn ranges_with_intercept(&self) -> Vec<f64> {
        std::iter::once(1.0)
            .chain(
                self.range
                    .iter()
                    .zip(&self.scale)
                    .map(|(range, scale)| range * scale),
            )
            .collect()
    }
}
