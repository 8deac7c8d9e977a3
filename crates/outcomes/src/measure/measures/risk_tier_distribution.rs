use crate::derive::{PersonOutcomes, Standing, View};
use crate::measure::{ClassPlace, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Quarter, Rule, UnitOfAnalysis};
use crate::tables::PatientKey;
use chrono::{Months, NaiveDate};

/// Classes of people at a quarter's end, lowest risk first.
const CLASSES: &[&str] = &[
    "tier 0",
    "tier 1",
    "tier 2",
    "tier 3",
    "active ulcer",
    "not gradable",
];

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "risk-tier-distribution",
    family: "risk",
    title: "People by IWGDF risk tier",
    words: "How the people under care were spread over the IWGDF risk tiers on the last day of the quarter. People with an \
            open wound are a class of their own. A missing test gives \"not gradable\" unless the tier is the same whatever \
            it would have shown.",
    numerator: "people in the class",
    denominator: "people alive and seen in the {seen_within_months} months before the quarter's end",
    exclusions: "people who had died or had not been seen for {seen_within_months} months",
    source: "IWGDF prevention guideline 2023, Diabetes Metab Res Rev 2024;40(3):e3651",
    caution: "A practice that takes on more people at high risk moves to the right without doing anything wrong. A high share \
              of \"not gradable\" is a finding about records, not about feet.",
    context: &[],
    direction: "neither",
    reading: "Share of the people under care in each class.",
    unit: Unit::Share,
    rule: Rule {
        unit: UnitOfAnalysis::Person,
        clock: "the last day of the quarter",
        entry_day: 0,
        event: &[],
        competing: &[],
        censoring: Censoring::Nothing,
        known: KnownRule::KnownOnly,
        horizon_days: 0,
    },
    method: Method::Snapshot {
        classes: CLASSES,
        classify,
    },
};

/// Positions in the classes, behind those of the tiers.
pub(super) const ACTIVE: ClassPlace = 4;
pub(super) const NOT_GRADABLE: ClassPlace = 5;

fn classify(study: &Study<'_>, quarter: Quarter) -> Vec<(PatientKey, ClassPlace)> {
    let end = quarter.end();
    let classed =
        |person: &PersonOutcomes<'_>| Some((person.person.key, class_of(study, person, end)?));
    study.people.iter().filter_map(classed).collect()
}

/// The class of a person under care on a day, as known then. An examination older than its items stay known tells no tier.
pub(super) fn class_of(
    study: &Study<'_>,
    person: &PersonOutcomes<'_>,
    end: NaiveDate,
) -> Option<ClassPlace> {
    let standing = under_care(study, person, end)?;
    match standing.has_open_wound(end, study.rules) {
        Some(true) => return Some(ACTIVE),
        None => return Some(NOT_GRADABLE),
        Some(false) => {}
    }
    let newest = standing
        .newest_tier(study.rules)
        .filter(|record| record.is_known_on(end, study.rules));
    Some(
        newest
            .and_then(|record| record.tier.known())
            .unwrap_or(NOT_GRADABLE),
    )
}

/// What was known on a day of a person who was alive then and had been seen in the months before.
pub(super) fn under_care<'s, 'a>(
    study: &Study<'_>,
    person: &'s PersonOutcomes<'a>,
    end: NaiveDate,
) -> Option<Standing<'s, 'a>> {
    let view = View {
        until: end,
        rules: study.rules,
        horizon: study.horizon,
    };
    let seen_since = months_before(end, study.rules.seen_within_months);
    // nobody is seen later than the last row is dated
    person.last_row_by(end).filter(|last| *last > seen_since)?;
    let standing = person.standing_at(&view);
    let is_alive = standing.facts.death.is_none_or(|death| death.date > end);
    let last_seen = standing.person.last_seen();
    let is_seen = last_seen.is_some_and(|last| last > seen_since);
    (is_alive && is_seen).then_some(standing)
}

fn months_before(end: NaiveDate, months: u32) -> NaiveDate {
    end.checked_sub_months(Months::new(months)).unwrap_or(end)
}
