use super::{major_amputations, subjects};
use crate::measure::{Measure, Method, Occurrence, Study};
use crate::rules::{Outcome, Rule};
use crate::tables::AmputationLevel;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "minor-amputations",
    title: "Minor amputations",
    words: "How many amputations through or below the ankle took place. Planned stages and closures of one operation \
            count once.",
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
