use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Rule, days_between};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "system-delay-within-14-days",
    family: "process",
    title: "System delay: seen here within two weeks of first contact",
    words: "Of people with a first new ulcer here, the share seen here within two weeks of their first contact with any health professional.",
    numerator: "people with at most two weeks between first contact anywhere and first visit here",
    denominator: "people whose first ulcer here was first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in; later ulcers of the same person, to which the first contact does not belong",
    source: "national diabetes foot care audit of England and Wales: expert assessment ideally within two weeks",
    caution: "A first contact dated after the first visit is contradictory and unknown.",
    context: &[
        "expert assessment within two weeks was followed by 49.8% alive and ulcer-free at 12 weeks, after more than 2 months by 34.3%, England and Wales 2014-15",
    ],
    direction: "better",
    reading: "Of 100 people whose dates are known, how many were seen here within two weeks of asking anybody.",
    unit: Unit::Share,
    rule: process_rule(0),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        new_ulcers::is_first(reading, ulcer).then(|| {
            let contact = reading.person.patient.first_contact?.date;
            let days = days_between(contact, ulcer.index.date);
            (days >= 0).then_some(days <= 14)
        })
    })
}
