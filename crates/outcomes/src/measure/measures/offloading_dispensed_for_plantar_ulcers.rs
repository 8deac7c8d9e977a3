use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;
use crate::tables::EventKind;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "offloading-dispensed-for-plantar-ulcers",
    family: "process",
    title: "Offloading dispensed for plantar ulcers",
    words: "Of new plantar ulcers, the share for which offloading was dispensed or supplied within four weeks of the first visit: the plan started.",
    numerator: "plantar ulcers with offloading dispensed or supplied",
    denominator: "plantar ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in; ulcers whose surface is not recorded or is not the sole",
    source: "IWGDF offloading guideline 2023 (from memory); four weeks: rule of this project",
    caution: "Dispensed is not worn: a removable walker is worn for about 28% of daily activity (Armstrong 2003, from memory).",
    context: &[],
    direction: "better",
    reading: "Read it beside the share prescribed: the difference is the plan that was made and not started.",
    unit: Unit::Share,
    rule: process_rule(28),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        new_ulcers::is_plantar(ulcer)?;
        if new_ulcers::has_event(reading, ulcer, EventKind::OffloadingSupplied, 0, 28) {
            return Some(Some(true));
        }
        let rows = new_ulcers::rows(reading, ulcer, 28);
        Some(new_ulcers::any_yes(
            rows.map(|row| row.offloading_dispensed),
        ))
    })
}
