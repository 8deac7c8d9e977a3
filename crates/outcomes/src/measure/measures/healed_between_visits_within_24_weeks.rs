use super::healed_between_visits_within_12_weeks;
use super::healed_within_12_weeks::healing_rule;
use crate::measure::Measure;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-between-visits-within-24-weeks",
    title: "Healed within 24 weeks, dated between visits",
    words: "The share of ulcers healed by day 168, counted from the first visit, when each healing is dated somewhere between the \
            last visit that found the ulcer open and the first that found it closed, instead of at the latter. The dates are \
            drawn {healing_date_draws} times, evenly within each interval, and the results pooled.",
    numerator: "ulcers whose drawn day of healing is day 168 or earlier; it differs from draw to draw",
    reading: "Of 100 ulcers first seen in that time, how many had closed for good by 24 weeks, seen or not.",
    rule: healing_rule(168),
    ..healed_between_visits_within_12_weeks::MEASURE
};
