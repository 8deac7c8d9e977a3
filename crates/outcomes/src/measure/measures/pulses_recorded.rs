use super::first_visit_recorded_in_full::{self, at_an_exam};
use super::new_ulcers;
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "pulses-recorded",
    title: "Pulses recorded",
    words: "Of new ulcers, the share on a foot whose pulses were felt for in the year before the first visit or up to {presentation_window_days} days after it. It measures nothing about the blood supply; that is a measure of its own.",
    numerator: "ulcers on a foot with an answer on pulses",
    reading: "Of 100 new ulcers, on how many feet somebody wrote down the pulses.",
    method: Method::Status { answers },
    ..first_visit_recorded_in_full::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        Some(Some(at_an_exam(reading, ulcer, view, |exam| {
            exam.pulses.is_some()
        })))
    })
}
