use super::median_time_to_healing;
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "quartiles-of-time-to-healing",
    title: "Days until a quarter, half and three quarters had healed",
    words: "The days on which a quarter, half and three quarters of all ulcers had healed, read from the cumulative incidence of \
            healing up to 24 weeks. Ulcers that had not healed are counted too.",
    numerator: "the first day on which the cumulative incidence of healing reaches each share",
    source: "Quantiles of the cumulative incidence (Aalen & Johansen 1978), limits where its pointwise band crosses the share \
             (after Brookmeyer & Crowley 1982)",
    caution: "Not reached means that fewer than that share healed by 24 weeks, not that the data are missing. Visit dates make \
              the days later than the true ones by up to the time between visits.",
    reading: "That share of the ulcers needed no more than this many days.",
    method: Method::FollowUp {
        subjects: super::subjects::ulcers,
        summary: FollowUpSummary::Quartiles,
    },
    ..median_time_to_healing::MEASURE
};
