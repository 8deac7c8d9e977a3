use super::healed_within_12_weeks;
use super::subjects;
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};

/// Healing of every ulcer of a person-episode without amputation by a day.
pub(super) const fn person_healing_rule(horizon_days: i64) -> Rule {
    Rule {
        unit: UnitOfAnalysis::PersonEpisode,
        clock: "the person's first open ulcer here",
        entry_day: 0,
        event: &[Outcome::AllHealed],
        competing: &[
            Outcome::MinorAmputation,
            Outcome::MajorAmputation,
            Outcome::Death,
        ],
        censoring: Censoring::LastStateKnown,
        known: KnownRule::Censored,
        horizon_days,
    }
}

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "every-ulcer-healed-within-12-weeks",
    title: "Every ulcer of a person healed within 12 weeks, without amputation",
    words: "The share of people whose every ulcer on both feet had healed on day 84 or earlier, counted from the person's first \
            open ulcer. An ulcer that opens while another is still open has to heal too. A closure that opens again within \
            {reopening_window_days} days does not count; an amputation of any of the ulcers or limbs ends the chance.",
    numerator: "people whose every ulcer had healed on day 84 or earlier",
    denominator: "people whose first open ulcer fell in the quarter",
    exclusions: "somebody who became ulcer-free and began again is counted again; people whose ulcer was first seen in the \
                 first {prevalent_window_days} days of the export, or transferred in",
    source: "Person-episode: national diabetes foot care audit of England and Wales, glossary 2018-23; cumulative incidence \
             after Aalen & Johansen 1978",
    caution: "Lower than the share of ulcers healed wherever people have several: the last ulcer decides. Large, deep, \
              infected or badly perfused ulcers heal more slowly; without case-mix this figure does not compare practices.",
    context: &[],
    reading: "Of 100 people whose first ulcer opened in that time, how many had all of them closed for good 12 weeks later.",
    rule: person_healing_rule(84),
    method: Method::FollowUp {
        subjects: subjects::person_episodes,
        summary: FollowUpSummary::IncidenceAt {
            days: &[84],
            headline_day: 84,
        },
    },
    ..healed_within_12_weeks::MEASURE
};
