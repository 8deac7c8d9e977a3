use super::new_ulcers::{self, DELAYS, delay_band};
use super::system_delay_within_14_days;
use crate::measure::{Banded, Measure, Method, Study};
use crate::rules::{Rule, days_between};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "system-delay-bands",
    title: "System delay in bands",
    words: "How long it took people with a first new ulcer here from their first contact with any health professional to the first visit here. A first contact here is 0 days.",
    numerator: "people in the band",
    source: "Bands after the national diabetes foot care audit of England and Wales; two months are 61 days: rule of this project",
    caution: "Only as good as the date of the first contact, which others wrote down. A contradictory date is unknown, never 0 days.",
    direction: "neither",
    reading: "Of 100 people whose dates are known, how many were seen here how soon after asking anybody.",
    method: Method::Bands {
        classes: DELAYS,
        banded,
    },
    ..system_delay_within_14_days::MEASURE
};

fn banded(study: &Study<'_>, rule: &Rule) -> Vec<Banded> {
    new_ulcers::banded(study, rule, |reading, ulcer, _| {
        new_ulcers::is_first(reading, ulcer).then(|| {
            let contact = reading.person.patient.first_contact?.date;
            let days = days_between(contact, ulcer.index.date);
            (days >= 0).then(|| delay_band(days))
        })
    })
}
