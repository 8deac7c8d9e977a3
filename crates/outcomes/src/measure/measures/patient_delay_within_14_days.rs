use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Rule, days_between};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "patient-delay-within-14-days",
    family: "process",
    title: "Patient delay: contact within two weeks of onset",
    words: "Of people with a first new ulcer here, the share whose first contact with any health professional came within two weeks of the onset told.",
    numerator: "people with at most two weeks between onset and first contact anywhere",
    denominator: "people whose first ulcer here was first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in; later ulcers of the same person, to which the first contact does not belong",
    source: "bands of the national diabetes foot care audit of England and Wales",
    caution: "Onset is told by the patient and often rounded. An unknown or contradictory date is unknown, never 0 days.",
    context: &[],
    direction: "better",
    reading: "Of 100 people whose dates are known, how many sought help within two weeks. It is apart from the wait for this practice.",
    unit: Unit::Share,
    rule: process_rule(0),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        new_ulcers::is_first(reading, ulcer).then(|| {
            let onset = ulcer.onset?.dated.date;
            let contact = reading.person.patient.first_contact?.date;
            let days = days_between(onset, contact);
            (days >= 0 && contact <= ulcer.index.date).then_some(days <= 14)
        })
    })
}
