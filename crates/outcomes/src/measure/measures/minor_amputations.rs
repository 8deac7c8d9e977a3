use super::{major_amputations, subjects};
use crate::measure::{Measure, Method, Occurrence, Study};
use crate::rules::{Outcome, Rule};
use crate::tables::AmputationLevel;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "minor-amputations",
    title: "Minor amputations",
    words: "How many amputations through or below the ankle took place. Planned stages and closures of one operation \
            count once. An ulcer that was seen and later found removed, with no amputation of that leg recorded in between, \
            counts as one on the day it was found so.",
    numerator: "minor amputations dated in the quarter",
    caution: "As known to this practice. A minor amputation can be good care that saves a leg; read it beside the major \
              ones, never alone.",
    direction: "neither",
    rule: Rule {
        event: &[Outcome::MinorAmputation],
        ..major_amputations::MEASURE.rule
    },
    method: Method::Count { events },
    ..major_amputations::MEASURE
};

pub(super) fn events(study: &Study<'_>) -> Vec<Occurrence> {
    subjects::amputations(study, AmputationLevel::Minor)
}
