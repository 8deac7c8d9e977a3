use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "sensation-tested",
    family: "process",
    title: "Protective sensation tested",
    words: "Of new ulcers, the share on a foot whose protective sensation was tested in the year before the first visit or up to {presentation_window_days} days after it.",
    numerator: "ulcers on a foot with a recorded test of sensation",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "IWGDF prevention guideline 2023: test at least every 12 months; period of the foot examination indicator CMS/MIPS #126",
    caution: "A test that was done and not written down is not counted.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, how many were on a foot whose feeling had been tested.",
    unit: Unit::Share,
    rule: process_rule(14),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        let mut exams = new_ulcers::exams(reading, ulcer, 365, view.rules.presentation_window_days);
        Some(Some(exams.any(|exam| exam.sensation.is_some())))
    })
}
