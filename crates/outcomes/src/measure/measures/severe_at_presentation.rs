use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "severe-at-presentation",
    family: "process",
    title: "Severe at presentation",
    words: "Of new ulcers, the share with a SINBAD score of 3 or more at the first visit. A missing item makes the score a range; where the range does not tell, the answer is unknown.",
    numerator: "ulcers with a SINBAD score of 3 or more",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "SINBAD: Ince et al., Diabetes Care 2008;31:964-967; severe from 3: national diabetes foot care audit of England and Wales",
    caution: "It shows whom the practice sees and how late they come, not how well it treats.",
    context: &[],
    direction: "neither",
    reading: "Of 100 new ulcers, how many were already severe when first seen.",
    unit: Unit::Share,
    rule: process_rule(14),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        let sinbad = reading.presentation(ulcer, view.rules).sinbad;
        Some(sinbad.at_least(3))
    })
}
