use super::new_ulcers::{self, process_rule};
use super::offloading_dispensed_for_plantar_ulcers;
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::{Rule, days_after};
use crate::tables::EventKind;

/// Days in which the plan is made, and in which it is to start.
const PLAN_DAYS: i64 = 28;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "offloading-started-after-prescription",
    title: "Offloading plan made and started",
    words: "Of new plantar ulcers with offloading prescribed within four weeks of the first visit, the share for which it was dispensed or supplied within four weeks of the prescription: of the plans made, those that were started.",
    numerator: "ulcers with offloading dispensed or supplied from the first visit to four weeks after the prescription",
    denominator: "plantar ulcers first seen in the quarter with offloading prescribed within four weeks",
    source: "Plan made against plan started, four weeks each: rule of this project",
    caution: "Started is not worn, and a device supplied elsewhere is seldom written down here.",
    reading: "Of 100 plans to take the load off an ulcer of the sole, how many were carried out in time.",
    rule: process_rule(2 * PLAN_DAYS),
    method: Method::Status { answers },
    ..offloading_dispensed_for_plantar_ulcers::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        new_ulcers::is_plantar(ulcer)?;
        let mut rows = new_ulcers::rows(reading, ulcer, PLAN_DAYS);
        let made = rows.find(|row| row.offloading_prescribed == Some(true))?;
        let span = ulcer.index.date..=days_after(made.date, PLAN_DAYS);
        let is_supplied = reading.person.events.iter().any(|event| {
            event.kind == EventKind::OffloadingSupplied
                && event.side.is_none_or(|side| side == ulcer.side)
                && span.contains(&event.date)
        });
        let rows = new_ulcers::rows(reading, ulcer, 2 * PLAN_DAYS);
        let told = rows.filter(|row| span.contains(&row.date));
        let is_dispensed = new_ulcers::any_yes(told.map(|row| row.offloading_dispensed));
        Some(if is_supplied {
            Some(true)
        } else {
            is_dispensed
        })
    })
}
