//! Groups and strata as places from 0.

use crate::SurvivalError;
use crate::sample::check_length;

/// Labels up to this are counted.
const SMALL_LABELS: usize = 1 << 16;

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
        let largest = labels.iter().copied().max().unwrap_or(0) as usize;
        if largest <= labels.len().min(SMALL_LABELS) {
            return Ok(Self::of_small(labels, largest));
        }
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

    /// Labels small enough to be counted instead of sorted.
    fn of_small(labels: &[u32], largest: usize) -> Self {
        let mut places = vec![u32::MAX; largest + 1];
        for &label in labels {
            if let Some(place) = places.get_mut(label as usize) {
                *place = 0;
            }
        }
        let mut known = Vec::new();
        for (label, place) in places.iter_mut().enumerate() {
            if *place == 0 {
                *place = known.len() as u32;
                known.push(label as u32);
            }
        }
        let place_of = |label: &u32| places.get(*label as usize).copied().unwrap_or(0);
        Self {
            place: labels.iter().map(place_of).collect(),
            labels: known,
        }
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
