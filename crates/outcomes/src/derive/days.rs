//! The days on which something about a person may have begun, found once for every measure.

use super::{Episode, Person};
use crate::tables::{EventKind, Side, UlcerState};
use chrono::NaiveDate;

/// Days of one person, each list ascending and without repeats.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Days {
    /// Days on which rows are dated, death among them.
    pub(crate) rows: Box<[NaiveDate]>,
    /// Days on which an ulcer may have begun.
    pub(crate) opening: Box<[NaiveDate]>,
    /// Days on which the last wound may have been known to be closed.
    pub(crate) closing: Box<[NaiveDate]>,
    /// Days of amputations, and those on which an ulcer was found removed.
    pub(crate) operations: Box<[NaiveDate]>,
}

impl Days {
    /// The days of a person with these episodes.
    pub(super) fn of(person: &Person<'_>, episodes: &[Episode]) -> Self {
        let operations = operations(person).chain(found_removed(person));
        let operations = ascending(operations.collect());
        Self {
            rows: rows(person),
            opening: opening(person, episodes),
            closing: closing(person),
            operations,
        }
    }

    /// On how many of the days with rows something is dated up to `until`.
    pub(super) fn n_by(&self, until: NaiveDate) -> usize {
        self.rows.partition_point(|day| *day <= until)
    }
}

fn ascending(mut days: Vec<NaiveDate>) -> Box<[NaiveDate]> {
    days.sort_unstable();
    days.dedup();
    days.into()
}

fn rows(person: &Person<'_>) -> Box<[NaiveDate]> {
    let mut days: Vec<NaiveDate> = person.visits.iter().map(|row| row.date).collect();
    days.extend(person.foot_exams.iter().map(|row| row.date));
    days.extend(person.observations.iter().map(|row| row.date));
    days.extend(person.events.iter().map(|row| row.date));
    days.extend(person.patient.death.map(|death| death.date));
    ascending(days)
}

/// It was seen open, and under that label had not been before, or something else had been seen or an amputation done since.
fn opening(person: &Person<'_>, episodes: &[Episode]) -> Box<[NaiveDate]> {
    let mut days: Vec<NaiveDate> = Vec::new();
    let rows = person.observations;
    for (position, row) in rows
        .iter()
        .enumerate()
        .filter(|(_, row)| row.state == Some(UlcerState::Open))
    {
        let before = rows[..position].iter().rev().find(|other| {
            (other.side, other.label) == (row.side, row.label) && other.state.is_some()
        });
        let continues = before.is_some_and(|before| {
            before.state == Some(UlcerState::Open) && !is_operated(person, before.date, row.date)
        });
        if !continues {
            days.push(row.date);
        }
    }
    days.extend(episodes.iter().map(|episode| episode.index.date));
    ascending(days)
}

/// A label first seen closed or excised, an operation, the next look at a foot after either; with splits or merges every
/// closed row.
fn closing(person: &Person<'_>) -> Box<[NaiveDate]> {
    let rows = person.observations;
    let has_parts = rows
        .iter()
        .any(|row| row.parent.is_some() || row.merged_into.is_some());
    let is_closing = |state| matches!(state, Some(UlcerState::Closed | UlcerState::Excised));
    let begins = |position: usize| {
        let row = &rows[position];
        let before = rows[..position].iter().rev().find(|other| {
            (other.side, other.label) == (row.side, row.label) && other.state.is_some()
        });
        has_parts
            || before
                .is_none_or(|before| before.state != row.state || before.seen_by != row.seen_by)
    };
    let mut days: Vec<NaiveDate> = (0..rows.len())
        .filter(|&position| is_closing(rows[position].state) && begins(position))
        .map(|position| rows[position].date)
        .collect();
    let removals: Vec<NaiveDate> = operations(person).chain(found_removed(person)).collect();
    let looks = removals.iter().flat_map(|removed| {
        [None, Some(Side::Left), Some(Side::Right)]
            .into_iter()
            .filter_map(|side| {
                person
                    .looks_at(side)
                    .map(|at| at.date)
                    .filter(|date| date > removed)
                    .min()
            })
    });
    days.extend(looks);
    days.extend(removals.iter().copied());
    ascending(days)
}

fn operations<'p>(person: &'p Person<'_>) -> impl Iterator<Item = NaiveDate> + 'p {
    let kinds = [EventKind::MinorAmputation, EventKind::MajorAmputation];
    let operated = person.events.iter();
    operated
        .filter(move |event| kinds.contains(&event.kind))
        .map(|event| event.date)
}

fn found_removed<'p>(person: &'p Person<'_>) -> impl Iterator<Item = NaiveDate> + 'p {
    let rows = person.observations.iter();
    rows.filter(|row| row.state == Some(UlcerState::Excised))
        .map(|row| row.date)
}

fn is_operated(person: &Person<'_>, from: NaiveDate, to: NaiveDate) -> bool {
    operations(person).any(|date| (from..=to).contains(&date))
}
