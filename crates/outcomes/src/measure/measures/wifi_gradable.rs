use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "wifi-gradable",
    family: "data",
    title: "WIfI stage can be told",
    words: "Of new ulcers, the share whose WIfI stage at the first visit follows from the recorded items: none is missing, or those that are would not change it.",
    numerator: "ulcers with one possible WIfI stage",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "WIfI: Mills et al., J Vasc Surg 2014;59:220-234; a missing item gives a range: rule of this project",
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
        Some(Some(presentation.wifi_stage.known().is_some()))
    })
}
