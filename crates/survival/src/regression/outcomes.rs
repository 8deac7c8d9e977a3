//! Checked yes-or-no outcomes.

use crate::SurvivalError;
use crate::sample::{check_length, checked_weights};

/// Rows with or without the outcome.
#[derive(Debug, Clone, PartialEq)]
pub struct BinaryOutcomes {
    has_outcome: Vec<bool>,
    weight: Option<Vec<f64>>,
    cluster: Option<Vec<u32>>,
}

impl BinaryOutcomes {
    /// Rows in order.
    ///
    /// # Errors
    /// `NoRows`, `TooManyRows`.
    pub fn new(has_outcome: Vec<bool>) -> Result<BinaryOutcomes, SurvivalError> {
        if has_outcome.is_empty() {
            return Err(SurvivalError::NoRows);
        }
        if has_outcome.len() >= u32::MAX as usize {
            return Err(SurvivalError::TooManyRows {
                n_rows: has_outcome.len(),
            });
        }
        Ok(BinaryOutcomes {
            has_outcome,
            weight: None,
            cluster: None,
        })
    }

    /// The same rows with case weights.
    ///
    /// # Errors
    /// Another length, a weight that is not finite or below 0, all weights 0.
    pub fn with_weight(mut self, weight: Vec<f64>) -> Result<BinaryOutcomes, SurvivalError> {
        self.weight = Some(checked_weights(weight, self.len())?);
        Ok(self)
    }

    /// The same rows with cluster numbers.
    ///
    /// # Errors
    /// Another length.
    pub fn with_cluster(mut self, cluster: Vec<u32>) -> Result<BinaryOutcomes, SurvivalError> {
        check_length("cluster", cluster.len(), self.len())?;
        self.cluster = Some(cluster);
        Ok(self)
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.has_outcome.len()
    }

    /// Whether there are no rows; never true of rows that were accepted.
    pub fn is_empty(&self) -> bool {
        self.has_outcome.is_empty()
    }

    /// Outcomes in row order.
    pub fn has_outcome(&self) -> &[bool] {
        &self.has_outcome
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
