use super::recurrence_within_12_months::{self, recurrence_rule};
use crate::derive::Episode;
use crate::measure::{CountHistory, Measure, Method, Study, follow_up};
use crate::report::Unit;
use crate::rules::{Outcome, Quarter, Rule, days_between};
use crate::tables::Dated;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "mean-new-ulcers-by-12-months",
    title: "New ulcers per 100 people in the first year",
    words: "How many new ulcers 100 people had had on average by day 365 after their last wound was first seen closed, the \
            second and every later one counted too. People are counted from day {reopening_window_days}, when the closure \
            stands. People who die have no more ulcers but stay in the average.",
    numerator: "new ulcers after day {reopening_window_days} and on day 365 or earlier",
    denominator: "people whose last wound closed in the quarter and who were still free of ulcers on day {reopening_window_days}",
    source: "Mean cumulative count with death as a terminal event: Ghosh and Lin, Biometrics 2000;56:554, eq. 2",
    caution: "A few people with many ulcers move it; the share with any new ulcer does not see them. Surgical wounds are no \
              new ulcers.",
    context: &[],
    reading: "How many new ulcers 100 people who had become free of them had within a year, all together.",
    unit: Unit::Per100People,
    rule: Rule {
        competing: &[Outcome::BothLimbsLost, Outcome::Death],
        ..recurrence_rule(365)
    },
    method: Method::MeanCount { histories },
    ..recurrence_within_12_months::MEASURE
};

/// One remission a person and quarter, the first that is at risk, with every new ulcer after it up to the last examination, or to the last
/// new ulcer that was told.
fn histories(study: &Study<'_>, rule: &Rule) -> Vec<CountHistory> {
    let rule = &Rule {
        entry_day: study.rules.reopening_window_days,
        ..*rule
    };
    // Whether somebody is at risk at all is decided as for the first new ulcer.
    let first_rule = &Rule {
        event: &[Outcome::NewUlcer],
        ..*rule
    };
    let ending_rule = &Rule {
        event: &[],
        ..*rule
    };
    let mut histories = Vec::new();
    for person in study.people {
        let mut last_quarter = None;
        for day in person.closing_days() {
            let quarter = Quarter::of(day);
            if last_quarter == Some(quarter) {
                continue;
            }
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let mut began = reading.remissions.iter();
            let Some(remission) = began.find(|spell| spell.start.date == day) else {
                continue;
            };
            let outcomes = remission.outcomes();
            let is_new = |ulcer: &&Episode| !ulcer.is_post_surgical && ulcer.index.date > day;
            let new = || reading.episodes.iter().filter(is_new);
            // an ulcer that was told between examinations is known of on its day, as a first one is
            let last_new = new().map(|ulcer| ulcer.index.date).max();
            let known_to = last_new.map_or(remission.last_exam.date, |last| {
                last.max(remission.last_exam.date)
            });
            let of = |rule| {
                follow_up(
                    rule,
                    remission.patient,
                    remission.start,
                    outcomes.iter().copied(),
                    known_to,
                )
            };
            if of(first_rule).is_none() {
                continue;
            }
            let Some(followed) = of(ending_rule) else {
                continue;
            };
            last_quarter = Some(quarter);
            let new = new()
                .map(|ulcer| (days_between(day, ulcer.index.date), ulcer.index))
                .filter(|(new_day, _)| {
                    (rule.entry_day + 1..=followed.exit_day.into()).contains(new_day)
                });
            let mut events: Vec<(i64, Dated)> = new.collect();
            events.sort_unstable();
            histories.push(CountHistory { followed, events });
        }
    }
    histories
}
