use super::recurrence_within_12_months::{self, recurrence_rule, subjects};
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "recurrence-within-3-months",
    title: "New ulcer within 3 months of being ulcer-free",
    words: "The share of people with a new ulcer, at any site of either foot, on day 91 or earlier, counted from the day their \
            last wound was first seen closed. People enter on day {reopening_window_days}, when the closure stands; a person \
            who dies first can have no new ulcer.",
    numerator: "people with a new ulcer after day {reopening_window_days} and on day 91 or earlier",
    caution: "Two months at risk: few events, wide intervals. Read it beside the 12-month figure.",
    context: &[],
    reading: "Of 100 people who were free of ulcers, how many had a new one within three months.",
    rule: recurrence_rule(91),
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::IncidenceAt {
            days: &[91],
            headline_day: 91,
        },
    },
    ..recurrence_within_12_months::MEASURE
};
