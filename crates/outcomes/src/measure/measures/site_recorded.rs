use super::first_visit_recorded_in_full;
use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "site-recorded",
    title: "Site recorded",
    words: "Of new ulcers, the share with a site on the foot written down.",
    numerator: "ulcers with a site",
    reading: "Of 100 new ulcers, for how many the place on the foot is known.",
    rule: process_rule(0),
    method: Method::Status { answers },
    ..first_visit_recorded_in_full::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |_, ulcer, _| Some(Some(ulcer.site.is_some())))
}
