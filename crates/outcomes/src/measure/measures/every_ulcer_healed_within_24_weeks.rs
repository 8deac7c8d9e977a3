use super::every_ulcer_healed_within_12_weeks::{self, person_healing_rule};
use super::subjects;
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "every-ulcer-healed-within-24-weeks",
    title: "Every ulcer of a person healed within 24 weeks, without amputation",
    words: "The share of people whose every ulcer on both feet had healed on day 168 or earlier, counted from the person's first \
            open ulcer. An ulcer that opens while another is still open has to heal too. A closure that opens again within \
            {reopening_window_days} days does not count; an amputation of any of the ulcers or limbs ends the chance.",
    numerator: "people whose every ulcer had healed on day 168 or earlier",
    reading: "Of 100 people whose first ulcer opened in that time, how many had all of them closed for good 24 weeks later.",
    rule: person_healing_rule(168),
    method: Method::FollowUp {
        subjects: subjects::person_episodes,
        summary: FollowUpSummary::IncidenceAt {
            days: &[168],
            headline_day: 168,
        },
    },
    ..every_ulcer_healed_within_12_weeks::MEASURE
};
