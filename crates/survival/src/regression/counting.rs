//! Rows of the counting process: recurrent events and covariates that change, as several rows of one subject.

use serde::Serialize;

use crate::{Sample, SurvivalError};

/// One subject under observation over (entry, exit] and the times of its events in it.
#[derive(Debug, Clone, PartialEq)]
pub struct SubjectEvents {
    /// Start of observation; 0 for the origin.
    pub entry: f64,
    /// End of observation.
    pub exit: f64,
    /// Event times, strictly ascending, after entry and not after exit.
    pub event_times: Vec<f64>,
}

/// The clock of the rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Clock {
    /// Time since the origin (Andersen and Gill, Annals of Statistics 1982;10:1100-1120).
    Total,
    /// Time since the event before, or since entry (Prentice, Williams and Peterson, Biometrika 1981;68:373-379, model 2).
    Gap,
}

/// A stretch of one subject, from one event to the next or to the end.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CountingRow {
    /// Index of the history, from 0: the cluster of the row.
    pub subject: usize,
    /// Number of the event waited for, from 1: the stratum of conditional models.
    pub event_number: u32,
    /// Start, not included.
    pub start: f64,
    /// End, included.
    pub stop: f64,
    /// Whether the stretch ends with the event.
    pub has_event: bool,
}

/// One row for each stretch between events. On the total clock without strata they are the rows of the Andersen-Gill model;
/// with `event_number` as stratum those of the conditional models of Prentice, Williams and Peterson, in total or gap time.
/// A subject whose observation ends with its last event gives no further row; one observed for no time gives none at all.
///
/// # Errors
/// `HistoryOutOfOrder` for an exit before entry, event times that do not ascend strictly or lie outside (entry, exit], and
/// times that are not finite.
pub fn counting_rows(
    histories: &[SubjectEvents],
    clock: Clock,
) -> Result<Vec<CountingRow>, SurvivalError> {
    let mut rows = Vec::new();
    for (subject, history) in histories.iter().enumerate() {
        check(subject, history)?;
        let last_event = history.event_times.last().copied();
        let is_watched_on = history.exit > last_event.unwrap_or(history.entry);
        let ends = history
            .event_times
            .iter()
            .map(|&time| (time, true))
            .chain(is_watched_on.then_some((history.exit, false)));
        let mut from = history.entry;
        for (event_number, (to, has_event)) in (1..).zip(ends) {
            let (start, stop) = match clock {
                Clock::Total => (from, to),
                Clock::Gap => (0.0, to - from),
            };
            rows.push(CountingRow {
                subject,
                event_number,
                start,
                stop,
                has_event,
            });
            from = to;
        }
    }
    Ok(rows)
}

fn check(subject: usize, history: &SubjectEvents) -> Result<(), SurvivalError> {
    let is_finite = history.entry.is_finite()
        && history.exit.is_finite()
        && history.entry >= 0.0
        && history.entry <= history.exit;
    let do_ascend = history.event_times.windows(2).all(|pair| pair[0] < pair[1]);
    // an event at the origin is at risk there, as everywhere in this crate
    let is_inside = |&time: &f64| {
        time <= history.exit && (time > history.entry || (time == 0.0 && history.entry == 0.0))
    };
    if is_finite && do_ascend && history.event_times.iter().all(is_inside) {
        Ok(())
    } else {
        Err(SurvivalError::HistoryOutOfOrder {
            history: subject + 1,
        })
    }
}

/// The rows as a sample, each in the cluster of its subject.
///
/// # Errors
/// No rows.
pub fn counting_sample(rows: &[CountingRow]) -> Result<Sample, SurvivalError> {
    Sample::new(
        rows.iter().map(|row| row.stop).collect(),
        rows.iter().map(|row| u32::from(row.has_event)).collect(),
    )?
    .with_entry(rows.iter().map(|row| row.start).collect())?
    .with_cluster(rows.iter().map(|row| row.subject as u32).collect())
}

/// A part of a row between two changes of a covariate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SplitRow {
    /// Index of the row it is a part of, from 0.
    pub row: usize,
    /// Start, not included; 0 for the origin.
    pub entry: f64,
    /// End, included.
    pub exit: f64,
    /// Cause at the end; 0, censored, but for the last part.
    pub cause: u32,
    /// Changes made by the start: the value in force is the one after so many changes. A change at time c is in force after c.
    pub n_changes: usize,
}

/// Splits each row of a sample at the times at which its covariates change; changes outside the follow-up make no part but
/// count. The same entry, exit and cause, in parts, leave every estimate of this crate as it was.
///
/// # Errors
/// Lists of another number than the rows; times that do not ascend, or are not finite.
pub fn split_follow_up(
    sample: &Sample,
    change_times: &[Vec<f64>],
) -> Result<Vec<SplitRow>, SurvivalError> {
    crate::sample::check_length("change_times", change_times.len(), sample.len())?;
    let mut parts = Vec::new();
    for (row, (changes, (&exit, &cause))) in change_times
        .iter()
        .zip(sample.exit().iter().zip(sample.cause()))
        .enumerate()
    {
        let is_ascending = changes.windows(2).all(|pair| pair[0] <= pair[1]);
        if !is_ascending || changes.iter().any(|time| !time.is_finite()) {
            return Err(SurvivalError::HistoryOutOfOrder { history: row + 1 });
        }
        let mut from = sample.entry().map_or(0.0, |entry| entry[row]);
        let mut n_changes = changes.partition_point(|&time| time <= from);
        while let Some(&time) = changes.get(n_changes).filter(|&&time| time < exit) {
            parts.push(SplitRow {
                row,
                entry: from,
                exit: time,
                cause: 0,
                n_changes,
            });
            from = time;
            n_changes = changes.partition_point(|&other| other <= time);
        }
        parts.push(SplitRow {
            row,
            entry: from,
            exit,
            cause,
            n_changes,
        });
    }
    Ok(parts)
}
