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

/// Centre, standard deviation and largest less smallest value of a column; a range of 0 and scale 1 where it does not vary.
struct Spread {
    centre: f64,
    scale: f64,
    range: f64,
}

/// Spread of one column. Sums are taken from the smallest value and in units of the range, so that large numbers keep their
/// digits and squares stay in range.
fn spread(values: &[f64], weights: Option<&[f64]>) -> Spread {
    let weighted = || {
        values
            .iter()
            .enumerate()
            .map(|(row, &value)| (value, weights.map_or(1.0, |weights| weights[row])))
    };
    let counted = || {
        weighted()
            .filter(|&(_, weight)| weight > 0.0)
            .map(|(value, _)| value)
    };
    let smallest = counted().fold(f64::INFINITY, f64::min);
    let largest = counted().fold(f64::NEG_INFINITY, f64::max);
    let range = largest - smallest;
    if range.is_nan() || range <= SMALLEST_RELATIVE_SPREAD * smallest.abs().max(largest.abs()) {
        let centre = if smallest.is_finite() { smallest } else { 0.0 };
        return Spread {
            centre,
            scale: 1.0,
            range: 0.0,
        };
    }
    let total: f64 = weighted().map(|(_, weight)| weight).sum();
    let mean = weighted()
        .map(|(value, weight)| weight * (value - smallest))
        .sum::<f64>()
        / total;
    let squares: f64 = weighted()
        .map(|(value, weight)| weight * ((value - smallest - mean) / range).powi(2))
        .sum();
    let deviation = range * (squares / total).sqrt();
    Spread {
        centre: smallest + mean,
        scale: if deviation > 0.0 { deviation } else { range },
        range,
    }
}

impl Standardised {
    /// `order` lists input rows; `weight` is by input row.
    pub(crate) fn of(
        covariates: &Covariates,
        order: &[u32],
        weight: Option<&[f64]>,
    ) -> Standardised {
        let n_terms = covariates.columns.len();
        // rows outside the order weigh nothing; where all count alike no weights are needed
        let weights: Option<Vec<f64>> =
            (order.len() < covariates.n_rows || weight.is_some()).then(|| {
                let mut weights = vec![0.0; covariates.n_rows];
                for &row in order {
                    weights[row as usize] = weight.map_or(1.0, |weight| weight[row as usize]);
                }
                weights
            });
        let spreads: Vec<Spread> = covariates
            .columns
            .iter()
            .map(|column| spread(&column.values, weights.as_deref()))
            .collect();
        let columns: Vec<(&[f64], f64, f64)> = covariates
            .columns
            .iter()
            .zip(&spreads)
            .map(|(column, spread)| {
                let unit = if spread.range > 0.0 {
                    1.0 / spread.scale
                } else {
                    0.0
                };
                (column.values.as_slice(), spread.centre, unit)
            })
            .collect();
        let mut values = Vec::with_capacity(order.len() * n_terms);
        for &row in order {
            values.extend(
                columns
                    .iter()
                    .map(|(column, centre, unit)| (column[row as usize] - centre) * unit),
            );
        }
        Standardised {
            n_terms,
            values,
            centre: spreads.iter().map(|spread| spread.centre).collect(),
            scale: spreads.iter().map(|spread| spread.scale).collect(),
            range: spreads
                .iter()
                .map(|spread| spread.range / spread.scale)
                .collect(),
        }
    }

    /// Rows of a range of positions, one after the other.
    pub(crate) fn rows(&self, positions: std::ops::Range<usize>) -> &[f64] {
        &self.values[positions.start * self.n_terms..positions.end * self.n_terms]
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
