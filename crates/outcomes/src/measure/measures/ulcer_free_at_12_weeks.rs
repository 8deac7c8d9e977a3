use super::ulcer_free_status::{self, StatusWindow};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Rule, UnitOfAnalysis};

/// Nearest day 84 within 70 to 98.
pub(super) const WINDOW_12_WEEKS: StatusWindow = StatusWindow {
    first_day: 70,
    target_day: 84,
    last_day: 98,
};

pub(super) const fn status_rule(horizon_days: i64) -> Rule {
    Rule {
        unit: UnitOfAnalysis::PersonEpisode,
        clock: "the person's first open ulcer here",
        entry_day: 0,
        event: &[],
        competing: &[],
        censoring: Censoring::Nothing,
        known: KnownRule::KnownOnly,
        horizon_days,
    }
}

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "ulcer-free-at-12-weeks",
    family: "healing",
    title: "Alive and ulcer-free at 12 weeks",
    words: "The share of people who were alive with every wound on both feet closed, at the visit nearest day 84 between day \
            70 and day 98. A wound that was amputated and has closed counts as closed. It is a status on one day, not a \
            healing rate.",
    numerator: "people alive with every wound closed",
    denominator: "people whose first open ulcer fell in the quarter",
    exclusions: "somebody who became ulcer-free and began again is counted again; people whose ulcer was first seen in the first {prevalent_window_days} days of the export, or transferred in; unknown outcomes are left \
                 out of the share and shown as bounds",
    source: "Indicator of the national diabetes foot care audit of England and Wales, glossary 2018-23",
    caution: "People who healed and stayed away count as ulcer-free by a setting; people who stayed away with an open ulcer \
              are unknown.",
    context: &[
        "49.8% (47.6-52.0) of people seen within 14 days, 34.3% (29.5-39.3) of those seen after more than 2 months, \
         England and Wales 2014-15",
    ],
    direction: "better",
    reading: "Of 100 people whose outcome is known, how many were alive without any open wound about 12 weeks later.",
    unit: Unit::Share,
    rule: status_rule(98),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    ulcer_free_status::answers(study, rule, WINDOW_12_WEEKS)
}
