use super::ulcer_free_at_12_weeks::{WINDOW_12_WEEKS, status_rule};
use super::ulcer_free_status;
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "outcome-known-at-12-weeks",
    family: "data",
    title: "Outcome known at 12 weeks",
    words: "The share of people for whom it is known whether they were alive and ulcer-free at 12 weeks.",
    numerator: "people whose status at 12 weeks is known",
    denominator: "people whose first open ulcer fell in the quarter",
    exclusions: "people whose ulcer was first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "Gate of 75%: reporting standards, Jeffcoate et al., Lancet Diabetes Endocrinol 2016;4:781",
    caution: "People who stop coming may have healed, died or gone elsewhere; the figures made from the others can be wrong \
              in either direction.",
    context: &[],
    direction: "better",
    reading: "Below the gate the 12-week figures of that time should not be relied on.",
    unit: Unit::Share,
    rule: status_rule(98),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    ulcer_free_status::answers(study, rule, WINDOW_12_WEEKS)
        .into_iter()
        .map(|answer| Answer {
            is_yes: Some(answer.is_yes.is_some()),
            ..answer
        })
        .collect()
}
