use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "infection-graded-at-first-visit",
    family: "process",
    title: "Infection graded at the first visit",
    words: "Of new ulcers, the share whose infection was graded at the first visit, \"none\" included.",
    numerator: "ulcers with a recorded infection grade on the first day",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "IWGDF/IDSA 2023: assess and grade infection at presentation (from memory)",
    caution: "A grade that was made and not written down is not counted.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, how many had their infection graded on the first day.",
    unit: Unit::Share,
    rule: process_rule(0),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        Some(Some(
            new_ulcers::rows(reading, ulcer, 0).any(|row| row.infection.is_some()),
        ))
    })
}
