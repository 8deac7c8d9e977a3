use crate::measure::{Banded, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Rule, UnitOfAnalysis};
use crate::tables::{Attendance, Dated};

const CLASSES: &[&str] = &["kept", "missed", "cancelled"];

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "visits-kept",
    family: "process",
    title: "Visits kept, missed and cancelled",
    words: "Of the attendances of the quarter, the shares that were kept, missed without word and cancelled.",
    numerator: "attendances of that kind",
    denominator: "attendances dated in the quarter",
    exclusions: "attendances after a death; administrative rows, which are no attendance",
    source: "Rule of this project",
    caution: "A practice that writes down kept visits only looks perfect. Who cancelled, the person or the practice, is not told.",
    context: &[],
    direction: "better",
    reading: "Of 100 planned visits, how many took place.",
    unit: Unit::Share,
    rule: Rule {
        unit: UnitOfAnalysis::Attendance,
        clock: "the day of the attendance",
        entry_day: 0,
        event: &[],
        competing: &[],
        censoring: Censoring::Nothing,
        known: KnownRule::KnownOnly,
        horizon_days: 0,
    },
    method: Method::Bands {
        classes: CLASSES,
        banded,
    },
};

/// One a row of visits up to a death; the row says what became of it.
fn banded(study: &Study<'_>, _: &Rule) -> Vec<Banded> {
    let mut banded = Vec::new();
    for person in study.people {
        let visits = person.reading.person.visits.iter();
        banded.extend(visits.map(|visit| Banded {
            cluster: visit.patient,
            index: Dated::new(visit.date, visit.source),
            place: None,
            band: Some(match visit.attendance {
                Attendance::Kept => 0,
                Attendance::Missed => 1,
                Attendance::Cancelled => 2,
            }),
        }));
    }
    banded
}
