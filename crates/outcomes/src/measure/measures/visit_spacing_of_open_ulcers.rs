use super::new_ulcers::is_surgical;
use super::visits_kept;
use crate::measure::{Banded, ClassPlace, Measure, Method, Place, Study};
use crate::rules::{Rule, UnitOfAnalysis, days_between};
use crate::tables::{Dated, SeenBy, UlcerState};

const CLASSES: &[&str] = &[
    "up to 7 days",
    "8 to 14 days",
    "15 to 28 days",
    "29 to 90 days",
    "more than 90 days",
];

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "visit-spacing-of-open-ulcers",
    family: "data",
    title: "Days between looks at an open ulcer",
    words: "Of the gaps between a visit that found an ulcer open and the next visit at which a clinician told its state, how long they were. A gap counts in the quarter of the later visit.",
    numerator: "gaps of that length",
    denominator: "gaps that ended in the quarter",
    exclusions: "surgical wounds; ulcers never seen again; visits that do not tell the state; a word of the patient, a nurse or a photograph",
    source: "Rule of this project",
    caution: "Healing is dated at the visit that finds it: the wider the gaps, the later ulcers seem to heal. Ulcers that were never seen again have no gap; they are in the share lost from sight.",
    context: &[],
    direction: "neither",
    reading: "Of 100 gaps between two looks at an open ulcer, how many were short.",
    rule: Rule {
        unit: UnitOfAnalysis::Gap,
        clock: "the later of the two visits",
        ..visits_kept::MEASURE.rule
    },
    method: Method::Bands {
        classes: CLASSES,
        banded,
    },
    ..visits_kept::MEASURE
};

fn banded(study: &Study<'_>, _: &Rule) -> Vec<Banded> {
    let mut banded = Vec::new();
    for person in study.people {
        let told = person.reading.person.observations.iter();
        let mut told: Vec<_> = told
            .filter(|row| row.seen_by == SeenBy::Clinician && row.state.is_some())
            .collect();
        told.sort_by_key(|row| (row.side, row.label, row.date));
        let pairs = told.iter().zip(told.iter().skip(1));
        banded.extend(pairs.filter_map(|(before, after)| {
            let is_same = (before.side, before.label) == (after.side, after.label);
            let days = days_between(before.date, after.date);
            let is_ulcer = || {
                let rows = person.reading.person.observations;
                !is_surgical(rows, after.side, after.label, after.date)
            };
            let is_gap =
                is_same && days > 0 && before.state == Some(UlcerState::Open) && is_ulcer();
            is_gap.then(|| Banded {
                cluster: after.patient,
                index: Dated::new(after.date, after.source),
                place: Some(Place::leg(after.side)),
                band: Some(band(days)),
            })
        }));
    }
    banded
}

fn band(days: i64) -> ClassPlace {
    match days {
        ..=7 => 0,
        8..=14 => 1,
        15..=28 => 2,
        29..=90 => 3,
        _ => 4,
    }
}
