use super::healed_within_12_weeks;
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-between-visits-within-12-weeks",
    title: "Healed within 12 weeks, dated between visits",
    words: "The share of ulcers healed by day 84, counted from the first visit, when each healing is dated somewhere between the \
            last visit that found the ulcer open and the first that found it closed, instead of at the latter. The dates are \
            drawn {healing_date_draws} times, evenly within each interval, and the results pooled.",
    numerator: "ulcers whose drawn day of healing is day 84 or earlier; it differs from draw to draw",
    source: "Cumulative incidence after Aalen & Johansen 1978, draws pooled after Rubin 1987 (from memory)",
    caution: "It puts healing evenly into the time between visits, which nobody knows. It removes most of what visits far apart \
              do to the figure dated at visits, so it is the one to compare between practices or times with other visit \
              spacing; case-mix still differs.",
    context: &[],
    reading: "Of 100 ulcers first seen in that time, how many had closed for good by 12 weeks, seen or not.",
    method: Method::FollowUp {
        subjects: super::subjects::ulcers,
        summary: FollowUpSummary::BetweenVisits,
    },
    ..healed_within_12_weeks::MEASURE
};
