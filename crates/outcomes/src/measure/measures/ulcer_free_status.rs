//! Alive and ulcer-free: a status of a person-episode at the visit nearest a day.

use crate::derive::{PersonEpisode, Reading, began_on};
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

/// One answer a person-episode that began here, as known at the end of its horizon.
pub(super) fn answers(study: &Study<'_>, rule: &Rule, window: StatusWindow) -> Vec<Answer> {
    let mut answers = Vec::new();
    for person in study.people {
        for day in person.opening_days() {
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading.person_episodes.iter();
            let began = began.filter(|span| span.index.date == day && !span.is_prevalent);
            answers.extend(began.map(|span| Answer {
                cluster: span.patient,
                index: span.index,
                place: None,
                is_yes: status(study, &reading, span, window),
            }));
        }
    }
    answers
}

/// Dead by the target day: no. Otherwise the visit in the window that tells and lies nearest the target day, of two
/// equally near the later: yes when every wound begun by then is closed, no when one is open. Without such a visit:
/// discharged with every wound closed is a setting, dead within the window is no, else unknown.
fn status(
    study: &Study<'_>,
    reading: &Reading<'_>,
    span: &PersonEpisode,
    window: StatusWindow,
) -> Option<bool> {
    let on = |day: i64| days_after(span.index.date, day);
    let death = reading.facts.death.map(|death| death.date);
    if death.is_some_and(|death| death <= on(window.target_day)) {
        return Some(false);
    }
    let mut in_window: Vec<i64> = reading
        .person
        .seen_days_within(on(window.first_day), on(window.last_day))
        .into_iter()
        .map(|date| days_between(span.index.date, date))
        .collect();
    in_window.sort_by_key(|day| ((day - window.target_day).abs(), std::cmp::Reverse(*day)));
    if let Some(answer) = in_window
        .iter()
        .find_map(|day| all_closed(reading, on(*day), study.rules))
    {
        return Some(answer);
    }
    if death.is_some_and(|death| death <= on(window.last_day)) {
        return Some(false);
    }
    let is_unseen = in_window.is_empty();
    let is_closed_before = || all_closed(reading, on(window.first_day), study.rules) == Some(true);
    let counts = study.rules.discharged_healed_counts_as_ulcer_free;
    (is_unseen && counts && is_closed_before()).then_some(true)
}

/// Whether every wound begun by a day is known to be closed on it; `None` when one is neither known to be open nor known
/// to be closed.
fn all_closed(reading: &Reading<'_>, date: NaiveDate, rules: &Rules) -> Option<bool> {
    let mut is_known = true;
    for (wound, closed) in reading.episodes.iter().zip(&reading.closures) {
        if began_on(wound, &reading.episodes, rules) > date {
            continue;
        }
        let is_closed = closed.is_some_and(|at| at.date <= date);
        // Seen open on that day or later, and not closed: open. Last seen open before it: not known.
        if !is_closed && wound.last_open.date >= date {
            return Some(false);
        }
        is_known &= is_closed;
    }
    is_known.then_some(true)
}
