//! Rows of subjects who may have an event several times.

use crate::sample::check_length;
use crate::{Sample, SurvivalError};

/// Checked rows of subjects under observation, each (start, stop] with an event at its stop or none.
///
/// Cause 0 is none; causes named terminal end the subject's observation; all others are counted. Two events of a subject
/// at one time are two rows, the second with start = stop. Rows of a subject may leave gaps but not overlap.
#[derive(Debug, Clone, PartialEq)]
pub struct EventHistory {
    sample: Sample,
    terminal: Vec<u32>,
    n_subjects: usize,
}

impl EventHistory {
    /// A history from subject numbers, times and causes; `terminal` names the causes that end observation.
    ///
    /// Each subject is a cluster until [`EventHistory::with_cluster`] says otherwise.
    ///
    /// # Errors
    /// As [`Sample::new`] and [`Sample::with_entry`]; `EventAtEntry` for an event at its row's start that follows no other row of
    /// the subject; `OverlappingRows`; `RowAfterEnd`. Rows are counted from 1.
    pub fn new(
        subject: Vec<u32>,
        start: Vec<f64>,
        stop: Vec<f64>,
        cause: Vec<u32>,
        terminal: &[u32],
    ) -> Result<EventHistory, SurvivalError> {
        let n_rows = stop.len();
        check_length("subject", subject.len(), n_rows)?;
        check_length("start", start.len(), n_rows)?;
        // the columns are checked as a sample before anything is read from them
        let checked = Sample::new(stop, cause)?.into_history().with_entry(start)?;
        let rows = rows_by_subject(&checked, &subject);
        let mut start = checked.entry().unwrap_or_default().to_vec();
        let mut n_subjects = 0;
        let mut previous: Option<Row> = None;
        let mut has_ended = false;
        for row in &rows {
            let before = previous.filter(|before| before.subject == row.subject);
            match before {
                None => {
                    n_subjects += 1;
                    has_ended = false;
                    if row.start == row.stop && row.start > 0.0 && row.cause > 0 {
                        return Err(SurvivalError::EventAtEntry { row: row.index + 1 });
                    }
                }
                Some(before) => {
                    if row.start < before.stop {
                        return Err(SurvivalError::OverlappingRows { row: row.index + 1 });
                    }
                    // another event on the day of the end still counts
                    if has_ended && row.stop > before.stop {
                        return Err(SurvivalError::RowAfterEnd { row: row.index + 1 });
                    }
                    let is_apart = row.start > before.stop;
                    if is_apart && row.start == row.stop && row.cause > 0 {
                        return Err(SurvivalError::EventAtEntry { row: row.index + 1 });
                    }
                    if let Some(start) = start.get_mut(row.index) {
                        *start = after_an_event_at_0(row.start, before.stop);
                    }
                }
            }
            has_ended |= terminal.contains(&row.cause);
            previous = Some(*row);
        }
        let sample = Sample::new(checked.exit().to_vec(), checked.cause().to_vec())?
            .into_history()
            .with_entry_after_0(start)
            .with_cluster(subject)?;
        Ok(EventHistory {
            sample,
            terminal: terminal.to_vec(),
            n_subjects,
        })
    }

    /// The same history with a weight for each row.
    ///
    /// # Errors
    /// As [`Sample::with_weight`].
    pub fn with_weight(mut self, weight: Vec<f64>) -> Result<EventHistory, SurvivalError> {
        self.sample = self.sample.with_weight(weight)?;
        Ok(self)
    }

    /// The same history with clusters of subjects.
    ///
    /// # Errors
    /// `UnequalColumns`.
    pub fn with_cluster(mut self, cluster: Vec<u32>) -> Result<EventHistory, SurvivalError> {
        self.sample = self.sample.with_cluster(cluster)?;
        Ok(self)
    }

    /// Number of subjects.
    pub fn n_subjects(&self) -> usize {
        self.n_subjects
    }

    pub(crate) fn sample(&self) -> &Sample {
        &self.sample
    }

    pub(crate) fn is_terminal(&self, cause: u32) -> bool {
        self.terminal.contains(&cause)
    }
}

/// A row with its subject, for the checks along a subject's time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row {
    pub(crate) subject: u32,
    pub(crate) start: f64,
    pub(crate) stop: f64,
    pub(crate) cause: u32,
    pub(crate) index: usize,
}

/// The rows in the order of subject and time; a row without length comes after the one that ends there.
pub(crate) fn rows_by_subject(sample: &Sample, subject: &[u32]) -> Vec<Row> {
    let starts = sample.entry().unwrap_or_default();
    let mut rows: Vec<Row> = sample
        .exit()
        .iter()
        .zip(starts)
        .zip(subject.iter().zip(sample.cause()))
        .enumerate()
        .map(|(index, ((&stop, &start), (&subject, &cause)))| Row {
            subject,
            start,
            stop,
            cause,
            index,
        })
        .collect();
    rows.sort_by(|left, right| {
        let key = |row: &Row| (row.subject, row.stop, row.start);
        let ((a, b, c), (d, e, f)) = (key(left), key(right));
        a.cmp(&d).then(b.total_cmp(&e)).then(c.total_cmp(&f))
    });
    rows
}

/// A row that goes on from an event at time 0 is not at risk at 0 once more: it starts just after.
pub(crate) fn after_an_event_at_0(start: f64, stop_before: f64) -> f64 {
    if start == 0.0 && stop_before == 0.0 {
        f64::MIN_POSITIVE
    } else {
        start
    }
}
