use super::healed_with_amputation_within_12_weeks::{self, closure_rule, ulcers_to_closure};
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-including-minor-amputation-within-24-weeks",
    title: "Healed within 24 weeks, minor amputation included",
    words: "The share of ulcers that on day 168 or earlier had healed, or had been removed by an amputation through or below \
            the ankle whose own wound had closed. The operation itself is no closure. Only a major amputation of that limb \
            and death end the chance.",
    numerator: "ulcers healed, or removed with the wound closed, on day 168 or earlier",
    reading: "Of 100 ulcers first seen in that time, how many had left no open wound 24 weeks later, with or without a minor \
              amputation.",
    rule: closure_rule(168),
    method: Method::FollowUp {
        subjects: ulcers_to_closure,
        summary: FollowUpSummary::IncidenceAt {
            days: &[168],
            headline_day: 168,
        },
    },
    ..healed_with_amputation_within_12_weeks::MEASURE
};
