use super::median_time_to_healing;
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "mean-days-to-healing-within-24-weeks",
    title: "Average days to healing within the first 24 weeks",
    words: "How many of the first 168 days passed on average until an ulcer had healed. An ulcer that had not healed by then, was \
            removed by amputation, or whose owner died counts with all 168 days; one lost from sight counts as far as it was \
            followed.",
    numerator: "168 days less the area under the cumulative incidence of healing up to day 168",
    source: "Restricted mean: area under the Aalen-Johansen estimate (Andersen, Stat Med 2013;32:5278-5285, from memory)",
    caution: "It is bound to 24 weeks and is no forecast of how long a wound takes. Visit dates make it longer than the true one by \
              up to the time between visits.",
    context: &[],
    reading: "The lower, the sooner ulcers healed; 168 days would mean that none healed within 24 weeks.",
    method: Method::FollowUp {
        subjects: super::subjects::ulcers,
        summary: FollowUpSummary::MeanDays,
    },
    ..median_time_to_healing::MEASURE
};
