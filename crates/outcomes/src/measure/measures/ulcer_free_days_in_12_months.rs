use super::ulcer_free_days_in_6_months::{self, ulcer_free_rule};
use crate::measure::Measure;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "ulcer-free-days-in-12-months",
    title: "Ulcer-free days in the first 12 months",
    words: "How many of the 365 days after a person's first open ulcer were on average spent alive without any open wound on \
            either foot. Days count from the first visit that found every wound closed, until the first that found one open again; \
            a wound that was amputated and has closed counts as closed.",
    reading: "365 days would mean no wound at all. The more days, the sooner people healed and the longer they stayed healed.",
    rule: ulcer_free_rule(365),
    ..ulcer_free_days_in_6_months::MEASURE
};
