use super::healed_within_12_weeks::{EXCLUSIONS, healing_rule};
use super::subjects;
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::report::Unit;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "median-time-to-healing",
    family: "healing",
    title: "Median time to healing",
    words: "The day on which half of all ulcers had healed, read from the cumulative incidence of healing up to 24 weeks. \
            Ulcers that had not healed are counted too; it is not an average of the healed.",
    numerator: "the first day on which the cumulative incidence of healing reaches one half",
    denominator: "ulcers first seen in the quarter",
    exclusions: EXCLUSIONS,
    source: "Quantile of the cumulative incidence (Aalen & Johansen 1978), limits where its pointwise band crosses one \
             half (after Brookmeyer & Crowley 1982)",
    caution: "Not reached means that fewer than half healed by 24 weeks, not that the data are missing. Visit dates make \
              it later than the true day by up to the time between visits.",
    context: &[],
    direction: "worse",
    reading: "Half of the ulcers needed no more than this many days.",
    unit: Unit::Days,
    rule: healing_rule(168),
    method: Method::FollowUp {
        subjects: subjects::ulcers,
        summary: FollowUpSummary::Median,
    },
};
