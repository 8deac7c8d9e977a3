use super::healed_confirmed_within_12_weeks::{self, confirmed_rule, ulcers_to_confirmation};
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-confirmed-within-24-weeks",
    title: "Healed within 24 weeks and confirmed at a second visit",
    words: "The strict version: the share of ulcers seen closed by a clinician on day 168 or earlier, counted from the first \
            visit, and seen closed again at least {confirmation_gap_days} days later. The day that counts is that of the first \
            closed visit. An ulcer removed by amputation is not healed.",
    numerator: "ulcers first seen closed on day 168 or earlier and confirmed closed at a second visit",
    reading: "Of 100 ulcers first seen in that time, how many were closed 24 weeks later and found closed again after that.",
    rule: confirmed_rule(168),
    method: Method::FollowUp {
        subjects: ulcers_to_confirmation,
        summary: FollowUpSummary::IncidenceAt {
            days: &[168],
            headline_day: 168,
        },
    },
    ..healed_confirmed_within_12_weeks::MEASURE
};
