//! The columns a regression explains an outcome with.

use crate::SurvivalError;
use crate::halves::{fill_in_halves, in_halves};
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
#[derive(Clone, Copy)]
struct Spread {
    centre: f64,
    scale: f64,
    range: f64,
}

/// Adds a row of some weight to a sum for each term.
type AddRow<'a> = dyn Fn(f64, &[f64], &mut [f64]) + Sync + 'a;

/// Spread of every column over rows held one after the other, of at least one term. Sums are taken from the smallest value and
/// in units of the range, so that large numbers keep their digits and squares stay in range.
fn spreads(values: &[f64], n_terms: usize, weights: Option<&[f64]>) -> Vec<Spread> {
    let n_rows = values.len() / n_terms;
    let weight_at = |position: usize| weights.map_or(1.0, |weights| weights[position]);
    let total: f64 = (0..n_rows).map(weight_at).sum();
    // a sum for each term over both halves of the rows
    let summed = |add: &AddRow| {
        let [mut sums, others] = in_halves(n_rows, |rows| {
            let mut sums = vec![0.0; n_terms];
            let own = values[rows.start * n_terms..rows.end * n_terms].chunks_exact(n_terms);
            for (position, row) in rows.zip(own) {
                add(weight_at(position), row, &mut sums);
            }
            sums
        });
        for (sum, other) in sums.iter_mut().zip(others) {
            *sum += other;
        }
        sums
    };
    let mut smallest = vec![f64::INFINITY; n_terms];
    let mut largest = vec![f64::NEG_INFINITY; n_terms];
    let halves = in_halves(n_rows, |rows| {
        let (mut smallest, mut largest) = (smallest.clone(), largest.clone());
        let own = &values[rows.start * n_terms..rows.end * n_terms];
        for row in own.chunks_exact(n_terms) {
            for ((value, smallest), largest) in row.iter().zip(&mut smallest).zip(&mut largest) {
                *smallest = smallest.min(*value);
                *largest = largest.max(*value);
            }
        }
        (smallest, largest)
    });
    for (low, high) in halves {
        for ((smallest, largest), (low, high)) in smallest
            .iter_mut()
            .zip(&mut largest)
            .zip(low.into_iter().zip(high))
        {
            *smallest = smallest.min(low);
            *largest = largest.max(high);
        }
    }
    let mut means = summed(&|weight, row, means| {
        for ((value, smallest), mean) in row.iter().zip(&smallest).zip(means) {
            *mean += weight * (value - smallest);
        }
    });
    means.iter_mut().for_each(|mean| *mean /= total);
    let squares = summed(&|weight, row, squares| {
        let bounds = smallest.iter().zip(&largest).zip(&means);
        for ((value, ((smallest, largest), mean)), square) in row.iter().zip(bounds).zip(squares) {
            *square += weight * ((value - smallest - mean) / (largest - smallest)).powi(2);
        }
    });
    let bounds = smallest.into_iter().zip(largest);
    bounds
        .zip(means.into_iter().zip(squares))
        .map(|((smallest, largest), (mean, squares))| {
            let range = largest - smallest;
            let size = smallest.abs().max(largest.abs());
            if range.is_nan() || range <= SMALLEST_RELATIVE_SPREAD * size {
                return Spread {
                    centre: if smallest.is_finite() { smallest } else { 0.0 },
                    scale: 1.0,
                    range: 0.0,
                };
            }
            let deviation = range * (squares / total).sqrt();
            Spread {
                centre: smallest + mean,
                scale: if deviation > 0.0 { deviation } else { range },
                range,
            }
        })
        .collect()
}

impl Standardised {
    /// `order` lists input rows of positive weight; `weight` is by input row. Sums are taken in that order.
    pub(crate) fn of(
        covariates: &Covariates,
        order: &[u32],
        weight: Option<&[f64]>,
    ) -> Standardised {
        let n_terms = covariates.columns.len();
        let mut values = vec![0.0; order.len() * n_terms];
        let mut spreads_found = Vec::new();
        if n_terms > 0 {
            // columns are read from first to last and rows written where they belong: far fewer places of memory are touched at
            // random than by reading each value from where it stands
            let mut position_of = vec![u32::MAX; covariates.n_rows];
            for (position, &input) in (0_u32..).zip(order) {
                position_of[input as usize] = position;
            }
            fill_in_halves(&mut values, n_terms, |first, part| {
                for (input, &position) in position_of.iter().enumerate() {
                    let place = (position as usize)
                        .wrapping_sub(first)
                        .wrapping_mul(n_terms);
                    let row = part.get_mut(place..place.saturating_add(n_terms));
                    for (value, column) in row.into_iter().flatten().zip(&covariates.columns) {
                        *value = column.values[input];
                    }
                }
            });
            let weights: Option<Vec<f64>> =
                weight.map(|weight| order.iter().map(|&row| weight[row as usize]).collect());
            spreads_found = spreads(&values, n_terms, weights.as_deref());
            fill_in_halves(&mut values, n_terms, |_, part| {
                for row in part.chunks_exact_mut(n_terms) {
                    for (value, spread) in row.iter_mut().zip(&spreads_found) {
                        *value = if spread.range > 0.0 {
                            (*value - spread.centre) * (1.0 / spread.scale)
                        } else {
                            0.0
                        };
                    }
                }
            });
        }
        Standardised {
            n_terms,
            values,
            centre: spreads_found.iter().map(|spread| spread.centre).collect(),
            scale: spreads_found.iter().map(|spread| spread.scale).collect(),
            range: spreads_found
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
