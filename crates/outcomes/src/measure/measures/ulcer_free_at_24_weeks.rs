use super::ulcer_free_at_12_weeks::{self, status_rule};
use super::ulcer_free_status::{self, StatusWindow};
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;

/// Nearest day 168 within 154 to 182.
const WINDOW_24_WEEKS: StatusWindow = StatusWindow {
    first_day: 154,
    target_day: 168,
    last_day: 182,
};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "ulcer-free-at-24-weeks",
    title: "Alive and ulcer-free at 24 weeks",
    words: "The share of people who were alive with every wound on both feet closed, at the visit nearest day 168 between day \
            154 and day 182. A wound that was amputated and has closed counts as closed. It is a status on one day, not a \
            healing rate.",
    context: &[],
    reading: "Of 100 people whose outcome is known, how many were alive without any open wound about 24 weeks later.",
    rule: status_rule(182),
    method: Method::Status { answers },
    ..ulcer_free_at_12_weeks::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    ulcer_free_status::answers(study, rule, WINDOW_24_WEEKS)
}
