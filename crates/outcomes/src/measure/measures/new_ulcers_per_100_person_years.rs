use super::recurrence_within_12_months::{self, recurrence_rule, subjects};
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::report::Unit;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "new-ulcers-per-100-person-years",
    title: "People with a new ulcer per 100 person-years free of ulcers",
    words: "People with a new ulcer over the time they were watched without one, in the first year after their last wound was \
            first seen closed. Time counts from day {reopening_window_days}, when the closure stands, to the new ulcer, \
            death, the last examination of the feet or day 365, whichever comes first.",
    numerator: "people with a new ulcer after day {reopening_window_days} and on day 365 or earlier",
    denominator: "time without an ulcer of people whose last wound closed in the quarter, in person-years",
    source: "Events over time at risk; exact Poisson limits, Garwood 1936; where one person is counted more than once, log \
             limits with a variance that is robust to it (common practice, no source)",
    caution: "A rate over time takes the risk as the same throughout the year, and it is highest in the first months. It is \
              not a share: 30 per 100 person-years is not 30%.",
    context: &["22.1 per 100 person-years (19.0-25.2), 49 studies: Fu et al. 2019"],
    reading: "As if 100 people without ulcers were watched for a year each.",
    unit: Unit::Per100PersonYears,
    rule: recurrence_rule(365),
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::RateToHorizon,
    },
    ..recurrence_within_12_months::MEASURE
};
