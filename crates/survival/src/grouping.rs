//! Groups and strata as places from 0.

use crate::SurvivalError;
use crate::sample::check_length;

/// The labels that occur, in increasing order, and each row's place among them.
#[derive(Debug, Clone)]
pub(crate) struct Grouping {
    pub(crate) labels: Vec<u32>,
    pub(crate) place: Vec<u32>,
}

impl Grouping {
    /// Reads a column of labels; refuses one whose length is not that of the sample.
    pub(crate) fn new(
        column: &'static str,
        labels: &[u32],
        n_rows: usize,
    ) -> Result<Self, SurvivalError> {
        check_length(column, labels.len(), n_rows)?;
        let mut known = labels.to_vec();
        known.sort_unstable();
        known.dedup();
        let place = labels
            .iter()
            .map(|label| known.binary_search(label).unwrap_or(0) as u32)
            .collect();
        Ok(Self {
            labels: known,
            place,
        })
    }

    /// Everybody in one group.
    pub(crate) fn of_one(n_rows: usize) -> Self {
        Self {
            labels: vec![0],
            place: vec![0; n_rows],
        }
    }

    pub(crate) fn n_groups(&self) -> usize {
        self.labels.len()
    }

    pub(crate) fn of(&self, row: usize) -> usize {
        self.place.get(row).copied().unwrap_or(0) as usize
    }
}
