use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "sinbad-gradable",
    family: "data",
    title: "SINBAD score can be told",
    words: "Of new ulcers, the share whose SINBAD score at the first visit follows from the recorded items: none is missing, or those that are would not change it.",
    numerator: "ulcers with one possible SINBAD score",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "SINBAD: Ince et al., Diabetes Care 2008;31:964-967; a missing item gives a range: rule of this project",
    caution: "What cannot be graded is left out of strata by severity, and is seldom left out by chance.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, for how many severity can be told without a guess.",
    unit: Unit::Share,
    rule: process_rule(14),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        let presentation = reading.presentation(ulcer, view.rules);
        Some(Some(presentation.sinbad.known().is_some()))
    })
}
