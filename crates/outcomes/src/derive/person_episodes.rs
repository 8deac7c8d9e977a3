//! Person-episodes: from the first open wound until every wound is closed.

use super::Person;
use super::episode::{Episode, EpisodeEnd};
use crate::rules::{Rules, days_between};
use crate::tables::{Dated, PatientKey};
use chrono::NaiveDate;

/// From a person's first open ulcer until every wound on both feet is closed.
///
/// As the national audit of England and Wales defines an ulcer episode (glossary 2018-23): it is not complete until
/// all ulcers have healed. Surgical wounds keep it open too.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonEpisode {
    /// Whose.
    pub patient: PatientKey,
    /// First open ulcer; day 0.
    pub index: Dated,
    /// Positions, in the person's list of episodes, of the wounds it spans.
    pub wounds: Vec<usize>,
    /// Last day on which any of its wounds was seen open.
    pub last_open: Dated,
    /// Last day on which it was known that not every wound was closed.
    pub last_not_closed: Dated,
    /// Day on which the last of its wounds was known to be closed; `None` while any is not.
    pub all_closed: Option<Dated>,
    /// Whether any of its wounds was removed by amputation.
    pub has_amputation: bool,
    /// Whether an ulcer of day 0 is prevalent.
    pub is_prevalent: bool,
}

/// The day each wound of a person was known to be closed, in the order of `episodes`; `None` while it is not known.
///
/// An ulcer that healed closed then. An amputation is no closure: its wound closes with the surgical wound recorded for
/// it (which is a wound of its own in the list), or, where none is, by the next time a clinician looks at that foot
/// (after a major amputation: at the person) without recording an open wound there.
pub(super) fn closures(
    episodes: &[Episode],
    person: &Person<'_>,
    rules: &Rules,
) -> Vec<Option<Dated>> {
    episodes
        .iter()
        .map(|wound| match wound.end {
            EpisodeEnd::Healed => Some(wound.end_at),
            EpisodeEnd::MinorAmputation | EpisodeEnd::MajorAmputation => {
                let left = episodes
                    .iter()
                    .find(|other| is_left_by(other, wound, rules));
                match left {
                    Some(_) => Some(wound.end_at),
                    None => next_look(person, wound),
                }
            }
            _ => None,
        })
        .collect()
}

/// The next time a clinician looked at the foot, or after a major amputation at the person.
fn next_look(person: &Person<'_>, wound: &Episode) -> Option<Dated> {
    let is_major = wound.end == EpisodeEnd::MajorAmputation;
    let looks = person.looks_at(Some(wound.side).filter(|_| !is_major));
    looks.filter(|at| at.date > wound.end_at.date).min()
}

/// The wounds that the removal of another left, each lesion from its first episode after it.
pub(super) fn left_by<'e>(
    removed: &Episode,
    episodes: &'e [Episode],
    rules: &Rules,
) -> Vec<(usize, &'e Episode)> {
    let mut left: Vec<(usize, &Episode)> = Vec::new();
    for (position, wound) in episodes.iter().enumerate() {
        let is_known = left.iter().any(|(_, known)| known.lesion == wound.lesion);
        if !is_known && is_left_by(wound, removed, rules) {
            left.push((position, wound));
        }
    }
    left
}

/// Whether a surgical wound is the one that the removal of another left: by its parent, or first seen on that foot
/// within the reopening window.
fn is_left_by(wound: &Episode, removed: &Episode, rules: &Rules) -> bool {
    // asked of every pair of wounds, and nearly none is a surgical wound
    if !wound.is_post_surgical {
        return false;
    }
    let days = days_between(removed.end_at.date, wound.index.date);
    removed.end.is_amputation()
        && wound.side == removed.side
        && days >= 0
        && wound
            .parent
            .map_or(days <= rules.reopening_window_days, |parent| {
                parent == removed.label
            })
}

/// The day a wound began as far as the records tell: a surgical wound on the day of the amputation that left it, any
/// other on its index day, as is a surgical wound that had closed and opens again.
pub(crate) fn began_on(wound: &Episode, episodes: &[Episode], rules: &Rules) -> NaiveDate {
    if !wound.is_post_surgical {
        return wound.index.date;
    }
    let opened_since = |removed: &Episode| {
        episodes.iter().any(|other| {
            other.lesion == wound.lesion
                && (removed.end_at.date..wound.index.date).contains(&other.index.date)
        })
    };
    let operations = episodes
        .iter()
        .filter(|removed| is_left_by(wound, removed, rules) && !opened_since(removed));
    operations
        .map(|removed| removed.end_at.date)
        .max()
        .unwrap_or(wound.index.date)
}

/// The person-episodes of one person, from all their wounds (ulcers and surgical wounds), by index date.
///
/// A wound belongs to the person-episode of another that counts as open on the day it began, as far as was
/// known on that day; otherwise it begins a new one. Day 0 is the first ulcer, not a surgical wound.
pub(super) fn person_episodes(
    episodes: &[Episode],
    closures: &[Option<Dated>],
    rules: &Rules,
) -> Vec<PersonEpisode> {
    if let [_] = episodes {
        let span = close(vec![0], episodes, closures);
        return span.into_iter().collect();
    }
    spans_of(0..episodes.len(), episodes, closures, rules)
}

/// The same of the wounds in some places of the list only.
pub(super) fn spans_of(
    places: impl Iterator<Item = usize>,
    episodes: &[Episode],
    closures: &[Option<Dated>],
    rules: &Rules,
) -> Vec<PersonEpisode> {
    let mut order: Vec<(NaiveDate, usize)> = places
        .map(|place| (began_on(&episodes[place], episodes, rules), place))
        .collect();
    order.sort_by_key(|&(began, place)| {
        let wound = &episodes[place];
        (began, wound.index, wound.side, wound.label)
    });
    let mut spans: Vec<Vec<(NaiveDate, usize)>> = Vec::new();
    for (began, place) in order {
        let is_open = |&(other_began, other): &(NaiveDate, usize)| {
            let other_wound = &episodes[other];
            let is_not_yet_seen = (other_began..other_wound.index.date).contains(&began);
            is_not_yet_seen || other_wound.is_open_on(began, closures[other], rules)
        };
        match spans.iter_mut().rev().find(|span| span.iter().any(is_open)) {
            Some(span) => span.push((began, place)),
            None => spans.push(vec![(began, place)]),
        }
    }
    let wounds = spans
        .into_iter()
        .map(|span| span.into_iter().map(|(_, place)| place).collect());
    wounds
        .filter_map(|wounds| close(wounds, episodes, closures))
        .collect()
}

/// `None` when the span holds surgical wounds only.
fn close(
    wounds: Vec<usize>,
    episodes: &[Episode],
    closures: &[Option<Dated>],
) -> Option<PersonEpisode> {
    let of_span = || wounds.iter().map(|&position| &episodes[position]);
    let first = of_span()
        .filter(|wound| !wound.is_post_surgical)
        .min_by_key(|wound| wound.index)?;
    let is_all_closed = wounds.iter().all(|&position| closures[position].is_some());
    let last_closed = wounds
        .iter()
        .filter_map(|&position| closures[position])
        .max();
    Some(PersonEpisode {
        patient: first.patient,
        index: first.index,
        last_open: of_span().map(|wound| wound.last_open).max()?,
        last_not_closed: wounds
            .iter()
            .map(|&position| match closures[position] {
                Some(_) => episodes[position].last_open,
                None => episodes[position].last_known,
            })
            .max()?,
        all_closed: last_closed.filter(|_| is_all_closed),
        has_amputation: of_span().any(|wound| wound.is_post_surgical || wound.end.is_amputation()),
        is_prevalent: of_span()
            .any(|wound| wound.index.date == first.index.date && wound.prevalent.is_some()),
        wounds,
    })
}
