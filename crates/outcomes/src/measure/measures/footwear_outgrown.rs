use super::footwear::{is_too_small_by, mismatch};
use super::footwear_measured;
use super::new_ulcers;
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "footwear-outgrown",
    title: "Shoes too small by a size or more",
    words: "Of new ulcers, the share on a foot whose shoe was smaller than the foot by at least one full US size, a third of an inch or 8.5 mm.",
    numerator: "ulcers on a foot with a shoe too small by 1 size or more",
    source: "One full US size is a third of an inch: common practice, no source",
    caution: "Feet swell through the day, and makers differ in their sizes. Length says nothing about width. An unmeasured shoe is unknown, not a fitting one.",
    direction: "worse",
    reading: "Of 100 new ulcers whose shoe and foot were measured, how many came in shoes a size too small.",
    method: Method::Status { answers },
    ..footwear_measured::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        let mismatch = mismatch(reading, ulcer, view.rules);
        Some(mismatch.map(|sizes| is_too_small_by(sizes, 1.0)))
    })
}
