use super::subjects;
use crate::measure::{Measure, Method, Occurrence, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};
use crate::tables::AmputationLevel;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "major-amputations",
    family: "limbs",
    title: "Major amputations",
    words: "How many amputations above the ankle took place. Planned stages and closures of one operation count once.",
    numerator: "major amputations dated in the quarter",
    denominator: "no denominator: a count",
    exclusions: "repeated reports of the same operation; planned stages and closures within {staged_amputation_days} days on the same limb",
    source: "Level: IWGDF definitions 2023 (from memory). Limits: exact Poisson, Garwood 1936",
    caution: "As known to this practice. A few a year: a rise or fall of one or two is chance.",
    context: &[],
    direction: "worse",
    reading: "A count with the range that chance alone would allow around it.",
    unit: Unit::Count,
    rule: Rule {
        unit: UnitOfAnalysis::Amputation,
        clock: "calendar quarter of the operation",
        entry_day: 0,
        event: &[Outcome::MajorAmputation],
        competing: &[],
        censoring: Censoring::Nothing,
        known: KnownRule::AsTold,
        horizon_days: 0,
    },
    method: Method::Count { events },
};

pub(super) fn events(study: &Study<'_>) -> Vec<Occurrence> {
    subjects::amputations(study, AmputationLevel::Major)
}
