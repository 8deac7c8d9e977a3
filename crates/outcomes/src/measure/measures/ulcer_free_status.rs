//! Alive and ulcer-free: a status of a person-episode at the visit nearest a day.

use crate::derive::{Episode, PersonEpisode, PersonOutcomes, Reading, began_on};
use crate::measure::{Answer, Study};
use crate::rules::{Rule, Rules, days_after, days_between};
use chrono::NaiveDate;

/// The day a status is asked for, and the window around it in which a visit may answer.
#[derive(Debug, Clone, Copy)]
pub(super) struct StatusWindow {
    pub(super) first_day: i64,
    pub(super) target_day: i64,
    pub(super) last_day: i64,
}

/// One answer a person-episode that began here.
pub(super) fn answers(study: &Study<'_>, rule: &Rule, window: StatusWindow) -> Vec<Answer> {
    let mut answers = Vec::new();
    for person in study.people {
        for span in person
            .reading
            .person_episodes
            .iter()
            .filter(|span| !span.is_prevalent)
        {
            let view = study.view(span.index.date, rule.horizon_days);
            let reading = person.reading_at(&view);
            let is_yes = status(study, person, &reading, span, window, view.until);
            answers.push(Answer {
                index: span.index,
                is_yes,
            });
        }
    }
    answers
}

/// Dead by the target day: no. Otherwise the visit in the window nearest the target day, of two equally near the later:
/// yes when every wound known by then is closed or removed, no when one is open, else unknown. Without a visit in the
/// window: discharged with every wound closed is a setting, dead within the window is no, else unknown.
fn status(
    study: &Study<'_>,
    person: &PersonOutcomes<'_>,
    reading: &Reading,
    span: &PersonEpisode,
    window: StatusWindow,
    until: NaiveDate,
) -> Option<bool> {
    let on = |day: i64| days_after(span.index.date, day);
    let death = reading.facts.death.map(|death| death.date);
    if death.is_some_and(|death| death <= on(window.target_day)) {
        return Some(false);
    }
    let seen = person.history.person.seen_days(until);
    let nearest = seen
        .iter()
        .map(|date| days_between(span.index.date, *date))
        .filter(|day| (window.first_day..=window.last_day).contains(day))
        .min_by_key(|day| ((day - window.target_day).abs(), std::cmp::Reverse(*day)));
    if let Some(day) = nearest {
        return all_closed(&reading.episodes, on(day), study.rules);
    }
    if death.is_some_and(|death| death <= on(window.last_day)) {
        return Some(false);
    }
    match all_closed(&reading.episodes, on(window.first_day), study.rules) {
        Some(true) if study.rules.discharged_healed_counts_as_ulcer_free => Some(true),
        _ => None,
    }
}

/// Whether every wound begun by a day is closed or removed on it; `None` when one is neither known to be open
/// nor known to be gone.
fn all_closed(episodes: &[Episode], date: NaiveDate, rules: &Rules) -> Option<bool> {
    let mut is_known = true;
    for wound in episodes
        .iter()
        .filter(|wound| began_on(wound, episodes, rules) <= date)
    {
        let is_gone = wound.resolved().is_some_and(|at| at.date <= date);
        // Seen open on that day or later, and not gone: open. Last seen open before it: not known.
        if !is_gone && wound.last_open.date >= date {
            return Some(false);
        }
        is_known &= is_gone;
    }
    is_known.then_some(true)
}
