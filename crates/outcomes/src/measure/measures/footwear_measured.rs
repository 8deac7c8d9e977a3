use super::footwear::mismatch;
use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "footwear-measured",
    family: "process",
    title: "Shoe worn and foot measured",
    words: "Of new ulcers, the share on a foot of which the shoe size worn and the foot size measured were both recorded at one examination, from 365 days before to {presentation_window_days} days after the first visit.",
    numerator: "ulcers on a foot with both sizes recorded",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "After the CMS quality measure 127, footwear evaluated and sized within 12 months (from memory); window: rule of this project",
    caution: "One word that footwear is adequate is not a measurement. People who wear no shoe to measure count as not measured.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, for how many somebody measured foot and shoe.",
    unit: Unit::Share,
    rule: process_rule(14),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        Some(Some(mismatch(reading, ulcer, view.rules).is_some()))
    })
}
