use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "offloading-prescribed-for-plantar-ulcers",
    family: "process",
    title: "Offloading prescribed for plantar ulcers",
    words: "Of new plantar ulcers, the share for which offloading was prescribed within four weeks of the first visit: the plan made.",
    numerator: "plantar ulcers with offloading prescribed",
    denominator: "plantar ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in; ulcers whose surface is not recorded or is not the sole",
    source: "IWGDF offloading guideline 2023 (from memory); four weeks: rule of this project",
    caution: "Prescribed is not worn. Where nothing was recorded either way the answer is unknown.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers of the sole whose record tells, how many had offloading prescribed.",
    unit: Unit::Share,
    rule: process_rule(28),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, _| {
        new_ulcers::is_plantar(ulcer)?;
        let rows = new_ulcers::rows(reading, ulcer, 28);
        Some(new_ulcers::any_yes(
            rows.map(|row| row.offloading_prescribed),
        ))
    })
}
