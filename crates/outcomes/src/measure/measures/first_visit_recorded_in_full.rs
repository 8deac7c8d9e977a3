use super::new_ulcers::{self, process_rule};
use crate::derive::{Episode, Reading, View};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;
use crate::tables::{FootExam, UlcerObservation};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "first-visit-recorded-in-full",
    family: "data",
    title: "First visit recorded in full",
    words: "Of new ulcers, the share for which all of these were written down: site, area, depth, gangrene and infection at the first visit, and sensation and pulses of that foot in the year before it or up to {presentation_window_days} days after it. Each is shown by itself, too.",
    numerator: "ulcers with all seven items",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "Items of the SINBAD score (Ince et al., Diabetes Care 2008;31:964-967) and of WIfI that every visit can record; the list: rule of this project",
    caution: "What was not written down may have been seen all the same; a share of records says nothing about the care itself.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, for how many nothing of the first look has to be guessed.",
    unit: Unit::Share,
    rule: process_rule(14),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        let is_recorded = ulcer.site.is_some()
            && has_area(reading, ulcer, view)
            && on_first_day(reading, ulcer, |row| row.tissue_depth.is_some())
            && on_first_day(reading, ulcer, |row| row.gangrene.is_some())
            && on_first_day(reading, ulcer, |row| row.infection.is_some())
            && at_an_exam(reading, ulcer, view, |exam| exam.sensation.is_some())
            && at_an_exam(reading, ulcer, view, |exam| exam.pulses.is_some());
        Some(Some(is_recorded))
    })
}

/// Whether a clinician wrote an item down on the day of the first visit.
pub(super) fn on_first_day(
    reading: &Reading<'_>,
    ulcer: &Episode,
    is_there: fn(&UlcerObservation) -> bool,
) -> bool {
    new_ulcers::rows(reading, ulcer, 0).any(is_there)
}

/// Whether an examination of that foot, from a year before the first visit to the end of the window after it, has an item.
pub(super) fn at_an_exam(
    reading: &Reading<'_>,
    ulcer: &Episode,
    view: &View<'_>,
    is_there: fn(&FootExam) -> bool,
) -> bool {
    new_ulcers::exams(reading, ulcer, 365, view.rules.presentation_window_days).any(is_there)
}

/// Whether the area of the first visit can be told.
pub(super) fn has_area(reading: &Reading<'_>, ulcer: &Episode, view: &View<'_>) -> bool {
    reading.presentation(ulcer, view.rules).area_cm2.is_some()
}
