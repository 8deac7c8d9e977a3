//! Rows of subjects who move between states.

use crate::recurrent::{after_an_event_at_0, rows_by_subject};
use crate::sample::check_length;
use crate::{Sample, SurvivalError};

/// Checked rows of subjects in states, each in one state over (start, stop], then moving to another or not.
///
/// States are any numbers, visited any number of times. Where a row moves nowhere the subject either goes on in the same
/// state in its next row or is censored. Rows of a subject may leave gaps but neither overlap nor change state without a move.
#[derive(Debug, Clone, PartialEq)]
pub struct StateHistory {
    /// Cause 0: no move; otherwise the place of the state moved to, plus 1.
    pub(super) sample: Sample,
    pub(super) states: Vec<u32>,
    /// For each row the place of its state.
    pub(super) from: Vec<u32>,
    pub(super) n_subjects: usize,
    /// Rows in which a subject is first seen at the earliest start of all.
    pub(super) is_initial: Vec<bool>,
    pub(super) origin: f64,
}

impl StateHistory {
    /// A history from subject numbers, times, the state of each row and the state moved to at its stop.
    ///
    /// Each subject is a cluster until [`StateHistory::with_cluster`] says otherwise.
    ///
    /// # Errors
    /// As [`Sample::new`] and [`Sample::with_entry`]; `OverlappingRows`, `StateWithoutTransition`. Rows are counted from 1.
    pub fn new(
        subject: Vec<u32>,
        start: Vec<f64>,
        stop: Vec<f64>,
        from: Vec<u32>,
        to: Vec<Option<u32>>,
    ) -> Result<StateHistory, SurvivalError> {
        let n_rows = stop.len();
        for (column, n_found) in [
            ("subject", subject.len()),
            ("start", start.len()),
            ("from", from.len()),
            ("to", to.len()),
        ] {
            check_length(column, n_found, n_rows)?;
        }
        let mut states: Vec<u32> = from
            .iter()
            .copied()
            .chain(to.iter().flatten().copied())
            .collect();
        states.sort_unstable();
        states.dedup();
        let place = |state: u32| states.binary_search(&state).unwrap_or(0) as u32;
        let from: Vec<u32> = from.into_iter().map(place).collect();
        // a move to the state one is in is no move
        let cause = to
            .iter()
            .zip(&from)
            .map(|(to, &from)| {
                let to = to.map(place).filter(|&to| to != from);
                to.map_or(0, |to| to + 1)
            })
            .collect();
        let checked = Sample::new(stop, cause)?.with_entry(start)?;

        let mut start = checked.entry().unwrap_or_default().to_vec();
        let origin = start.iter().copied().fold(f64::INFINITY, f64::min);
        let mut is_initial = vec![false; n_rows];
        let mut n_subjects = 0;
        let mut previous: Option<(u32, f64, u32)> = None;
        for row in rows_by_subject(&checked, &subject) {
            let state = from.get(row.index).copied().unwrap_or(0);
            match previous.filter(|&(subject, ..)| subject == row.subject) {
                None => {
                    n_subjects += 1;
                    if let Some(is_initial) = is_initial.get_mut(row.index) {
                        *is_initial = row.start == origin;
                    }
                }
                Some((_, stop, state_left_in)) => {
                    if row.start < stop {
                        return Err(SurvivalError::OverlappingRows { row: row.index + 1 });
                    }
                    if row.start == stop && state != state_left_in {
                        return Err(SurvivalError::StateWithoutTransition { row: row.index + 1 });
                    }
                    if let Some(start) = start.get_mut(row.index) {
                        *start = after_an_event_at_0(row.start, stop);
                    }
                }
            }
            let state_left_in = row.cause.checked_sub(1).unwrap_or(state);
            previous = Some((row.subject, row.stop, state_left_in));
        }
        Ok(StateHistory {
            sample: checked.with_entry_after_0(start).with_cluster(subject)?,
            states,
            from,
            n_subjects,
            is_initial,
            origin,
        })
    }

    /// The same history with a weight for each row.
    ///
    /// # Errors
    /// As [`Sample::with_weight`].
    pub fn with_weight(mut self, weight: Vec<f64>) -> Result<StateHistory, SurvivalError> {
        self.sample = self.sample.with_weight(weight)?;
        Ok(self)
    }

    /// The same history with clusters of subjects.
    ///
    /// # Errors
    /// `UnequalColumns`.
    pub fn with_cluster(mut self, cluster: Vec<u32>) -> Result<StateHistory, SurvivalError> {
        self.sample = self.sample.with_cluster(cluster)?;
        Ok(self)
    }

    /// The states that occur, in increasing order.
    pub fn states(&self) -> &[u32] {
        &self.states
    }

    /// Number of subjects.
    pub fn n_subjects(&self) -> usize {
        self.n_subjects
    }

    pub(super) fn state_of(&self, row: usize) -> usize {
        self.from.get(row).copied().unwrap_or(0) as usize
    }
}
