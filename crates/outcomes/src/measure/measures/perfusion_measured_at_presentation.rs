use super::new_ulcers::{self, process_rule};
use crate::grade::{Perfusion, is_measured};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;
use crate::tables::EventKind;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "perfusion-measured-at-presentation",
    family: "process",
    title: "Blood supply measured at presentation",
    words: "Of new ulcers, the share on a leg whose blood supply was measured from {presentation_window_days} days before to {presentation_window_days} days after the first visit: pressure, index, TcPO2, waveform or a physiologic study. Feeling the pulses does not count, nor does an index above {abi_non_compressible_above} alone.",
    numerator: "ulcers on a leg with a measurement",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "Global Vascular Guidelines 2019; IWGDF/ESVS/SVS 2023 (from memory); window: rule of this project",
    caution: "Measurements made elsewhere are counted only where somebody wrote them down.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, how many were on a leg whose blood supply was measured and not only felt.",
    unit: Unit::Share,
    rule: process_rule(14),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        let window = view.rules.presentation_window_days;
        let limit = view.rules.abi_non_compressible_above;
        let mut exams = new_ulcers::exams(reading, ulcer, window, window);
        let is_examined = exams.any(|exam| is_measured(&Perfusion::of(exam), limit));
        let is_studied =
            new_ulcers::has_event(reading, ulcer, EventKind::PhysiologicStudy, window, window);
        Some(Some(is_examined || is_studied))
    })
}
