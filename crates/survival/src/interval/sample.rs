//! Checked interval-censored rows.

use crate::SurvivalError;
use crate::sample::{check_length, checked_weights};

/// Rows whose time lies in (lower, upper]. `lower == upper` is a time known exactly, `lower` 0 is left-censored, `upper`
/// infinite is right-censored; (0, infinity] says nothing and is kept and counted. Ends are compared as they are: decimal
/// times that should be equal must be equal to the last digit, so whole days are the safer unit.
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalSample {
    lower: Vec<f64>,
    upper: Vec<f64>,
    weight: Option<Vec<f64>>,
    cluster: Option<Vec<u32>>,
}

impl IntervalSample {
    /// Rows from lower and upper ends, 0 or more; `f64::INFINITY` above where the time was not seen.
    ///
    /// # Errors
    /// No rows, columns of unequal length, an end that is not a number, a lower end that is infinite, an end below 0, an
    /// upper end below the lower.
    pub fn new(lower: Vec<f64>, upper: Vec<f64>) -> Result<IntervalSample, SurvivalError> {
        if lower.is_empty() {
            return Err(SurvivalError::NoRows);
        }
        if lower.len() >= u32::MAX as usize {
            return Err(SurvivalError::TooManyRows {
                n_rows: lower.len(),
            });
        }
        check_length("upper", upper.len(), lower.len())?;
        for (index, (&low, &high)) in lower.iter().zip(&upper).enumerate() {
            let row = index + 1;
            if !low.is_finite() {
                return Err(SurvivalError::NotFinite {
                    column: "lower",
                    row,
                });
            }
            if high.is_nan() {
                return Err(SurvivalError::NotFinite {
                    column: "upper",
                    row,
                });
            }
            if low < 0.0 {
                return Err(SurvivalError::Negative {
                    column: "lower",
                    row,
                });
            }
            if high < low {
                return Err(SurvivalError::UpperBelowLower { row });
            }
        }
        // adding zero turns a negative zero into a positive one
        let positive_zero = |ends: Vec<f64>| ends.into_iter().map(|end| end + 0.0).collect();
        Ok(IntervalSample {
            lower: positive_zero(lower),
            upper: positive_zero(upper),
            weight: None,
            cluster: None,
        })
    }

    /// The same rows with case weights.
    ///
    /// # Errors
    /// Another length, a weight that is not finite or below 0, all weights 0.
    pub fn with_weight(mut self, weight: Vec<f64>) -> Result<IntervalSample, SurvivalError> {
        self.weight = Some(checked_weights(weight, self.len())?);
        Ok(self)
    }

    /// The same rows with cluster numbers.
    ///
    /// # Errors
    /// Another length.
    pub fn with_cluster(mut self, cluster: Vec<u32>) -> Result<IntervalSample, SurvivalError> {
        check_length("cluster", cluster.len(), self.len())?;
        self.cluster = Some(cluster);
        Ok(self)
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.lower.len()
    }

    /// Whether there are no rows; never true of a sample that was accepted.
    pub fn is_empty(&self) -> bool {
        self.lower.is_empty()
    }

    /// Lower ends.
    pub fn lower(&self) -> &[f64] {
        &self.lower
    }

    /// Upper ends, infinite where right-censored.
    pub fn upper(&self) -> &[f64] {
        &self.upper
    }

    /// Case weights, where given.
    pub fn weight(&self) -> Option<&[f64]> {
        self.weight.as_deref()
    }

    /// Cluster numbers, where given.
    pub fn cluster(&self) -> Option<&[u32]> {
        self.cluster.as_deref()
    }

    pub(crate) fn weight_of(&self, row: usize) -> f64 {
        self.weight.as_ref().map_or(1.0, |weight| weight[row])
    }
}
