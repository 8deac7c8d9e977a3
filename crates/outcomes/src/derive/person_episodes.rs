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
    /// Day on which the last of its wounds was closed or removed; `None` while any is not known to be.
    pub all_closed: Option<Dated>,
    /// Whether any of its wounds was removed by amputation.
    pub has_amputation: bool,
    /// Whether any of its ulcers is prevalent.
    pub is_prevalent: bool,
}

/// The person-episodes of one person, from all their wounds (ulcers and surgical wounds), by index date.
///
/// A wound belongs to the person-episode of another that counts as open on the day it began, as far as was
/// known on that day; otherwise it begins a new one. So a later export never changes who began when.
pub(super) fn person_episodes(episodes: &[Episode], rules: &Rules) -> Vec<PersonEpisode> {
    let began: Vec<NaiveDate> = episodes
        .iter()
        .map(|wound| began_on(wound, episodes, rules))
        .collect();
    let mut order: Vec<usize> = (0..episodes.len()).collect();
    order.sort_by_key(|&position| {
        let wound = &episodes[position];
        (began[position], wound.index, wound.side, wound.label)
    });
    let mut spans: Vec<PersonEpisode> = Vec::new();
    for position in order {
        let wound = &episodes[position];
        let is_open = |&other: &usize| {
            let is_not_yet_seen =
                (began[other]..episodes[other].index.date).contains(&began[position]);
            is_not_yet_seen || episodes[other].is_open_on(began[position], rules)
        };
        match spans
            .iter_mut()
            .rev()
            .find(|span| span.wounds.iter().any(is_open))
        {
            Some(span) => span.wounds.push(position),
            None => spans.push(PersonEpisode {
                patient: wound.patient,
                index: wound.index,
                wounds: vec![position],
                last_open: wound.last_open,
                all_closed: None,
                has_amputation: false,
                is_prevalent: false,
            }),
        }
    }
    spans
        .into_iter()
        .map(|span| close(span, episodes))
        .filter(|span| {
            span.wounds
                .iter()
                .any(|&position| !episodes[position].is_post_surgical)
        })
        .collect()
}

/// The day a wound began as far as the records tell: a surgical wound on the day of the amputation that left it, when it
/// was first seen within the reopening window after it; any other on its index day.
pub(crate) fn began_on(wound: &Episode, episodes: &[Episode], rules: &Rules) -> NaiveDate {
    let left_it = |removed: &&Episode| {
        wound.is_post_surgical
            && removed.end == EpisodeEnd::MinorAmputation
            && removed.side == wound.side
            && wound.parent.is_none_or(|parent| parent == removed.label)
            && (0..=rules.reopening_window_days)
                .contains(&days_between(removed.end_at.date, wound.index.date))
    };
    let operations = episodes
        .iter()
        .filter(left_it)
        .map(|removed| removed.end_at.date);
    operations.max().unwrap_or(wound.index.date)
}

fn close(mut span: PersonEpisode, episodes: &[Episode]) -> PersonEpisode {
    let wounds = || span.wounds.iter().map(|&position| &episodes[position]);
    let resolved: Option<Vec<Dated>> = wounds().map(Episode::resolved).collect();
    let last_open = wounds()
        .map(|wound| wound.last_open)
        .max()
        .unwrap_or(span.index);
    let has_amputation = wounds().any(|wound| {
        matches!(
            wound.end,
            EpisodeEnd::MinorAmputation | EpisodeEnd::MajorAmputation
        ) || wound.is_post_surgical
    });
    let is_prevalent = wounds().any(|wound| wound.prevalent.is_some());
    span.all_closed = resolved.and_then(|dates| dates.into_iter().max());
    span.last_open = last_open;
    span.has_amputation = has_amputation;
    span.is_prevalent = is_prevalent;
    span
}
