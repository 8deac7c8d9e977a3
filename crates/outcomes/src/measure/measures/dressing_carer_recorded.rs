use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "dressing-carer-recorded",
    family: "process",
    title: "Who changes the dressing is recorded",
    words: "Of new ulcers, the share for which it was written down within four weeks of the first visit who changes the dressing.",
    numerator: "ulcers with a recorded carer of the dressing",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "rule of this project",
    caution: "It shows that somebody asked, not that the dressing was changed.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, for how many somebody wrote down who changes the dressing.",
    unit: Unit::Share,
    rule: process_rule(28),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        let mut rows = new_ulcers::rows(reading, ulcer, 28);
        Some(Some(rows.any(|row| row.dressing_carer.is_some())))
    })
}
