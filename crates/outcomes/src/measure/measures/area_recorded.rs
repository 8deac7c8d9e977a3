use super::first_visit_recorded_in_full::{self, has_area};
use super::new_ulcers;
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "area-recorded",
    title: "Area recorded",
    words: "Of new ulcers, the share whose area at the first visit can be told, from length and width or as traced.",
    numerator: "ulcers with an area",
    reading: "Of 100 new ulcers, how many were measured at the first visit.",
    method: Method::Status { answers },
    ..first_visit_recorded_in_full::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        Some(Some(has_area(reading, ulcer, view)))
    })
}
