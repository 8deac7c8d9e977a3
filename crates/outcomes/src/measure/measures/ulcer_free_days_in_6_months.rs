use super::ulcer_free_days;
use crate::measure::{Measure, Method};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Rule, UnitOfAnalysis};

pub(super) const fn ulcer_free_rule(horizon_days: i64) -> Rule {
    Rule {
        unit: UnitOfAnalysis::PersonEpisode,
        clock: "the person's first open ulcer here",
        entry_day: 0,
        event: &[],
        competing: &[],
        censoring: Censoring::LastFootExam,
        known: KnownRule::CensoredAtExam,
        horizon_days,
    }
}

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "ulcer-free-days-in-6-months",
    family: "healing",
    title: "Ulcer-free days in the first 6 months",
    words: "How many of the 182 days after a person's first open ulcer were on average spent alive without any open wound on \
            either foot. Days count from the first visit that found every wound closed, until the first that found one open again; \
            a wound that was amputated and has closed counts as closed.",
    numerator: "days alive with every wound known to be closed",
    denominator: "people whose first open ulcer fell in the quarter",
    exclusions: "somebody who became ulcer-free and began again is counted again; people whose ulcer was first seen in the first \
                 {prevalent_window_days} days of the export, or transferred in",
    source: "Ulcer-free days: rule of this project, after the notion of remission (Armstrong et al., N Engl J Med 2017;376:2367, \
             from memory); expected time in a state after Aalen & Johansen 1978",
    caution: "It puts slow healing, early recurrence and death into one number, so read it beside them. People who stay away are \
              followed to the last look at their feet only; the worst and best case show what they could change.",
    context: &[],
    direction: "better",
    reading: "182 days would mean no wound at all. The more days, the sooner people healed and the longer they stayed healed.",
    unit: Unit::Days,
    rule: ulcer_free_rule(182),
    method: Method::TimeFree {
        courses: ulcer_free_days::courses,
    },
};
