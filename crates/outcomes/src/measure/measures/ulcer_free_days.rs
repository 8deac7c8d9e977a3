//! From a person's first open ulcer through spells with and without open wounds.

use crate::derive::{PersonEpisode, Reading};
use crate::measure::{COUNTED, OTHER, START, StateCourse, Study};
use crate::rules::{Rule, days_between};

/// One course a person-episode that began here, as known at the end of its horizon.
pub(super) fn courses(study: &Study<'_>, rule: &Rule) -> Vec<StateCourse> {
    let mut courses = Vec::new();
    for person in study.people {
        for day in person.opening_days() {
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading
                .person_episodes
                .iter()
                .enumerate()
                .filter(|(_, span)| span.index.date == day && !span.is_prevalent);
            courses.extend(
                began.map(|(place, _)| course(&reading, place, study.rules.death_link_days)),
            );
        }
    }
    courses
}

/// Open until every wound is closed, free until the next opens; known to the last look at the feet (to the last day a wound is
/// known to be open, where one was lost from sight). A death further from that than the link days is not linked to it.
fn course(reading: &Reading<'_>, place: usize, death_link_days: i64) -> StateCourse {
    let spans = &reading.person_episodes[place..];
    let start = &reading.person_episodes[place];
    let day = |span: &PersonEpisode| days_between(start.index.date, span.index.date);
    let mut moves: Vec<(i64, u32)> = Vec::new();
    let mut known_to = 0;
    for (position, span) in spans.iter().enumerate() {
        if position > 0 {
            push(&mut moves, day(span), START);
        }
        let Some(closed) = span.all_closed else {
            known_to = days_between(start.index.date, span.last_not_closed.date);
            break;
        };
        let closed_day = days_between(start.index.date, closed.date);
        push(&mut moves, closed_day, COUNTED);
        let looks = reading.person.foot_looks().map(|at| at.date);
        let last_look = looks.filter(|date| *date >= closed.date).max();
        let last_look = last_look.map(|date| days_between(start.index.date, date));
        known_to = last_look.unwrap_or(closed_day).max(closed_day);
    }
    known_to = known_to.max(moves.last().map_or(0, |last| last.0));
    let death = reading
        .facts
        .death
        .map(|death| days_between(start.index.date, death.date));
    let death = death.filter(|death| *death >= known_to && death - known_to <= death_link_days);
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
