use super::healed_within_12_weeks::{self, healing_rule};
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-within-24-weeks",
    title: "Healed within 24 weeks, without amputation",
    words: "The share of ulcers seen closed by a clinician on day 168 or earlier, counted from the first visit. A closure \
            that opens again within {reopening_window_days} days does not count. An ulcer removed by amputation is not healed.",
    numerator: "ulcers healed on day 168 or earlier",
    context: &["65% of 194 ulcers within 6 months: Oyibo et al., Diabetes Care 2001;24:84"],
    reading: "Of 100 ulcers first seen in that time, how many were closed for good 24 weeks later.",
    rule: healing_rule(168),
    method: Method::FollowUp {
        subjects: super::subjects::ulcers,
        summary: FollowUpSummary::IncidenceAt {
            days: &[168],
            headline_day: 168,
        },
    },
    ..healed_within_12_weeks::MEASURE
};
