use super::new_ulcers::{self, DELAYS, delay_band};
use super::patient_delay_within_14_days;
use crate::measure::{Banded, Measure, Method, Study};
use crate::rules::{Rule, days_between};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "onset-to-first-visit-bands",
    title: "Onset to first visit in bands",
    words: "How old new ulcers were at the first visit here, from the onset told.",
    numerator: "ulcers in the band",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "Bands after the national diabetes foot care audit of England and Wales; two months are 61 days: rule of this project",
    caution: "Onset is told by the patient and often rounded. An unknown date, or one after the first visit, is unknown.",
    direction: "neither",
    reading: "Of 100 new ulcers with a told onset, how old they were when first seen here.",
    method: Method::Bands {
        classes: DELAYS,
        banded,
    },
    ..patient_delay_within_14_days::MEASURE
};

fn banded(study: &Study<'_>, rule: &Rule) -> Vec<Banded> {
    new_ulcers::banded(study, rule, |_, ulcer, _| {
        let band = || {
            let onset = ulcer.onset?.dated.date;
            let days = days_between(onset, ulcer.index.date);
            (days >= 0).then(|| delay_band(days))
        };
        Some(band())
    })
}
