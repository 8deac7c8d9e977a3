use super::new_ulcers::{self, process_rule};
use crate::derive::Seen;
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Rule, days_after};
use crate::tables::SeenBy;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "area-measured-at-every-visit",
    family: "process",
    title: "Area measured at every visit",
    words: "Of new ulcers, the share whose area can be told, by the method of the first day, at every visit of the first four weeks that found them open.",
    numerator: "ulcers with an area at every such visit",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "rule of this project, after the 4-week rule of Sheehan et al., Diabetes Care 2003;26:1879-1882",
    caution: "Two observers differ by 10 to 20%.",
    context: &[],
    direction: "better",
    reading: "Of 100 new ulcers, how many were measured each time they were seen in the first four weeks.",
    unit: Unit::Share,
    rule: process_rule(28),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |reading, ulcer, view| {
        let last = days_after(ulcer.index.date, 28);
        let days = ulcer.index.date..=last;
        let lesion = reading.lesions.get(ulcer.lesion)?;
        let areas = reading.areas(ulcer, view.rules);
        let mut open = lesion
            .sightings
            .iter()
            .filter(|seen| seen.state == Seen::Open && days.contains(&seen.at.date))
            .filter(|seen| seen.rows.iter().any(|row| row.seen_by == SeenBy::Clinician));
        let is_measured = open.all(|seen| areas.iter().any(|point| point.at.date == seen.at.date));
        Some(Some(is_measured))
    })
}
