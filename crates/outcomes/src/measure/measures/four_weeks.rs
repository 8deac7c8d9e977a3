//! The area of an ulcer at its first visit and about four weeks later.

use crate::derive::{AreaPoint, Episode};
use crate::grade::{FOUR_WEEK_WINDOW, SMALLEST_FIRST_AREA_CM2, four_week_reading};
use crate::measure::Study;
use crate::rules::{Outcome, Rule};

/// What became of an ulcer's area in four weeks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FourWeeks {
    /// Measured, or closed, by one method throughout.
    Read {
        first: AreaPoint,
        now: AreaPoint,
        /// Days between the two.
        days: i64,
    },
    /// Amputated or dead before a second measurement.
    Ended,
    /// Not measured in time.
    NotRead,
}

/// Every ulcer that began here with a first area large enough to be measured, as known at the end of its horizon.
pub(super) fn four_weeks<T>(
    study: &Study<'_>,
    rule: &Rule,
    of: impl Fn(&Episode, FourWeeks) -> T,
) -> Vec<T> {
    let mut found = Vec::new();
    for person in study.people {
        for day in person.opening_days() {
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading.episodes.iter().filter(|ulcer| {
                !ulcer.is_post_surgical && ulcer.prevalent.is_none() && ulcer.index.date == day
            });
            found.extend(began.filter_map(|ulcer| {
                let areas = reading.areas(ulcer, study.rules);
                Some(of(ulcer, course(ulcer, &areas)?))
            }));
        }
    }
    found
}

/// `None` without a first area, or with one too small to tell a change from the error of measuring it.
fn course(ulcer: &Episode, areas: &[AreaPoint]) -> Option<FourWeeks> {
    let first = areas.first().copied().filter(|first| {
        first.at.date == ulcer.index.date && first.area_cm2 >= SMALLEST_FIRST_AREA_CM2
    })?;
    let days: Vec<i64> = areas.iter().map(|point| ulcer.day_of(point.at)).collect();
    let closed_early = || {
        let last = areas.len().checked_sub(1)?;
        let is_early = days
            .get(last)
            .is_some_and(|day| day < FOUR_WEEK_WINDOW.start());
        // a closure that a reopening cancelled says nothing about the fourth week
        let stands = ulcer.closure.is_some();
        (is_early && stands && areas.get(last)?.area_cm2 == 0.0).then_some(last)
    };
    let read = four_week_reading(&days).or_else(closed_early);
    if let Some((place, now)) = read.and_then(|place| Some((place, *areas.get(place)?))) {
        let days = days.get(place).copied()?;
        return Some(FourWeeks::Read { first, now, days });
    }
    let ends = [
        Outcome::MinorAmputation,
        Outcome::MajorAmputation,
        Outcome::Death,
    ];
    let is_ended = ulcer.outcomes().any(|(outcome, at)| {
        ends.contains(&outcome) && ulcer.day_of(at) <= *FOUR_WEEK_WINDOW.end()
    });
    Some(if is_ended {
        FourWeeks::Ended
    } else {
        FourWeeks::NotRead
    })
}
