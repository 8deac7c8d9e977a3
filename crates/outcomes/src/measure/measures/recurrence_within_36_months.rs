use super::recurrence_within_12_months::{self, recurrence_rule, subjects};
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "recurrence-within-36-months",
    title: "New ulcer within 36 months of being ulcer-free",
    words: "The share of people with a new ulcer, at any site of either foot, on day 1095 or earlier, counted from the day \
            their last wound was first seen closed. People enter on day {reopening_window_days}, when the closure stands; a \
            person who dies first can have no new ulcer.",
    numerator: "people with a new ulcer after day {reopening_window_days} and on day 1095 or earlier",
    caution: "The people counted became free of ulcers more than three years ago: the care it speaks of is that of then. \
              People who stay away are counted until their last examination only.",
    context: &[
        "60% within three years: Armstrong et al., N Engl J Med 2017;376:2367 (from memory)",
    ],
    reading: "Of 100 people who were free of ulcers, how many had a new one within three years.",
    rule: recurrence_rule(1095),
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::IncidenceAt {
            days: &[1095],
            headline_day: 1095,
        },
    },
    ..recurrence_within_12_months::MEASURE
};
