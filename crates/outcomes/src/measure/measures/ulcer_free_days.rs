//! From a person's first open ulcer through spells with and without open wounds.

use crate::derive::{PersonEpisode, Reading, began_on};
use crate::measure::{COUNTED, OTHER, START, StateCourse, Study};
use crate::rules::{Rule, Rules, days_between};
use chrono::NaiveDate;

/// One course a person-episode that began here, as known at the end of its horizon.
pub(super) fn courses(study: &Study<'_>, rule: &Rule) -> Vec<StateCourse> {
    let mut courses = Vec::new();
    for person in study.people {
        for day in person.opening_days() {
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading
                .person_episodes
                .iter()
                .filter(|span| span.index.date == day && !span.is_prevalent);
            courses.extend(began.map(|span| course(&reading, span, study.rules)));
        }
    }
    courses
}

/// Open while any wound is, surgical ones too, and free between; known to the last look at the feet, or to the day from which
/// a wound that was lost from sight may have been open or not. A death further from that than the link days is not linked to it.
fn course(reading: &Reading<'_>, start: &PersonEpisode, rules: &Rules) -> StateCourse {
    let day = |date: NaiveDate| days_between(start.index.date, date);
    let wounds = reading.episodes.iter().zip(&reading.closures);
    let lost = wounds
        .clone()
        .filter(|(_, closed)| closed.is_none())
        .map(|(wound, _)| day(wound.last_known.date))
        .min();
    let mut open: Vec<(i64, i64)> = wounds
        .map(|(wound, closed)| {
            let began = day(began_on(wound, &reading.episodes, rules));
            (began.max(0), day(closed.unwrap_or(wound.last_known).date))
        })
        .filter(|(_, to)| *to > 0)
        .collect();
    open.sort_unstable();
    let mut moves: Vec<(i64, u32)> = Vec::new();
    let mut open_to = 0;
    let mut is_lost = false;
    for (from, to) in open {
        if from > open_to {
            is_lost = lost.is_some_and(|lost| lost <= open_to);
            if is_lost {
                break;
            }
            push(&mut moves, open_to, COUNTED);
            push(&mut moves, from, START);
        }
        open_to = open_to.max(to);
    }
    is_lost |= lost.is_some_and(|lost| lost <= open_to);
    let mut known_to = open_to;
    if !is_lost {
        push(&mut moves, open_to, COUNTED);
        let looks = reading.person.foot_looks().map(|at| day(at.date));
        known_to = looks.max().unwrap_or(open_to).max(open_to);
    }
    let death = reading
        .facts
        .death
        .map(|death| days_between(start.index.date, death.date));
    let death =
        death.filter(|death| *death >= known_to && death - known_to <= rules.death_link_days);
    if let Some(death) = death {
        push(&mut moves, death, OTHER);
        known_to = death;
    }
    StateCourse {
        cluster: start.patient,
        index: start.index,
        moves,
        known_to,
        is_ended: death.is_some(),
    }
}

/// Of two moves on one day the later in the course stands.
fn push(moves: &mut Vec<(i64, u32)>, day: i64, state: u32) {
    if moves.last().is_some_and(|last| last.0 >= day) {
        moves.pop();
    }
    moves.push((day, state));
}
