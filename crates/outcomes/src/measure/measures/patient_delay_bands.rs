use super::new_ulcers::{self, DELAYS, delay_band};
use super::patient_delay_within_14_days;
use crate::measure::{Banded, Measure, Method, Study};
use crate::rules::{Rule, days_between};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "patient-delay-bands",
    title: "Patient delay in bands",
    words: "How long people with a first new ulcer here had waited from the onset told to their first contact with any health professional.",
    numerator: "people in the band",
    source: "Bands after the national diabetes foot care audit of England and Wales; two months are 61 days: rule of this project",
    caution: "Onset is told by the patient and often rounded. An unknown or contradictory date is unknown, never 0 days.",
    direction: "neither",
    reading: "Of 100 people whose dates are known, how many waited how long before asking anybody.",
    method: Method::Bands {
        classes: DELAYS,
        banded,
    },
    ..patient_delay_within_14_days::MEASURE
};

fn banded(study: &Study<'_>, rule: &Rule) -> Vec<Banded> {
    new_ulcers::banded(study, rule, |reading, ulcer, _| {
        new_ulcers::is_first(reading, ulcer).then(|| {
            let onset = ulcer.onset?.dated.date;
            let contact = reading.person.patient.first_contact?.date;
            let days = days_between(onset, contact);
            (days >= 0 && contact <= ulcer.index.date).then(|| delay_band(days))
        })
    })
}
