use super::first_visit_recorded_in_full;
use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "onset-recorded",
    title: "Onset recorded",
    words: "Of new ulcers, the share with a day, week or month of onset told.",
    numerator: "ulcers with an onset",
    reading: "Of 100 new ulcers, how many have an onset from which a delay can be told.",
    rule: process_rule(0),
    method: Method::Status { answers },
    ..first_visit_recorded_in_full::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |_, ulcer, _| Some(Some(ulcer.onset.is_some())))
}
