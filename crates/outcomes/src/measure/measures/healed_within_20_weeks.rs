use super::healed_within_12_weeks::{self, healing_rule};
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-within-20-weeks",
    title: "Healed within 20 weeks, without amputation",
    words: "The share of ulcers seen closed by a clinician on day 140 or earlier, counted from the first visit. A closure \
            that opens again within {reopening_window_days} days does not count. An ulcer removed by amputation is not healed. \
            It stands here because the published severity strata speak of 20 weeks.",
    numerator: "ulcers healed on day 140 or earlier",
    context: &[
        "47% of 27,630 people had healed within 20 weeks: Margolis et al., Am J Med 2003;115:627",
        "30.9% (26.6-35.1) healed by 20 weeks in the control arms of six trials: Margolis et al., Diabetes Care 1999;22:692",
    ],
    reading: "Of 100 ulcers first seen in that time, how many were closed for good 20 weeks later.",
    rule: healing_rule(140),
    method: Method::FollowUp {
        subjects: super::subjects::ulcers,
        summary: FollowUpSummary::IncidenceAt {
            days: &[140],
            headline_day: 140,
        },
    },
    ..healed_within_12_weeks::MEASURE
};
