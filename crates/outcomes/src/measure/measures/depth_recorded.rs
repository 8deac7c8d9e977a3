use super::first_visit_recorded_in_full::{self, on_first_day};
use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "depth-recorded",
    title: "Depth recorded",
    words: "Of new ulcers, the share for which the deepest tissue was written down at the first visit.",
    numerator: "ulcers with a depth",
    reading: "Of 100 new ulcers, for how many somebody wrote down how deep they went.",
    rule: process_rule(0),
    method: Method::Status { answers },
    ..first_visit_recorded_in_full::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        Some(Some(on_first_day(reading, ulcer, |row| {
            row.tissue_depth.is_some()
        })))
    })
}
