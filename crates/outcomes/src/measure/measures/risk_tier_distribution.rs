use crate::derive::{Person, PersonOutcomes, View};
use crate::measure::{Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Quarter, Rule, UnitOfAnalysis};
use crate::tables::PatientKey;
use chrono::Months;

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

/// As known on the quarter's last day. An examination older than its items stay known tells no tier.
fn classify(study: &Study<'_>, quarter: Quarter) -> Vec<(PatientKey, usize)> {
    const ACTIVE: usize = 4;
    const NOT_GRADABLE: usize = 5;
    let end = quarter.end();
    let view = View {
        until: end,
        rules: study.rules,
        horizon: study.horizon,
    };
    let months_before = |months| end.checked_sub_months(Months::new(months)).unwrap_or(end);
    let seen_since = months_before(study.rules.seen_within_months);
    let known_since = months_before(study.rules.exam_item_valid_months);
    let class = |person: &PersonOutcomes<'_>| {
        let is_seen = |person: &Person<'_>| {
            person
                .up_to(end)
                .last_seen()
                .is_some_and(|last| last > seen_since)
        };
        if !is_seen(&person.person) {
            return None;
        }
        let reading = person.reading_at(&view);
        let is_alive = reading.facts.death.is_none_or(|death| death.date > end);
        if !is_alive || !is_seen(&reading.person) {
            return None;
        }
        match reading.has_open_wound(end, study.rules) {
            Some(true) => return Some(ACTIVE),
            None => return Some(NOT_GRADABLE),
            Some(false) => {}
        }
        let newest = reading
            .newest_tier(study.rules)
            .filter(|record| record.at.date > known_since);
        Some(
            newest
                .and_then(|record| record.tier.known())
                .map_or(NOT_GRADABLE, usize::from),
        )
    };
    let classed = |person| class(person).map(|class| (person.person.key, class));
    study.people.iter().filter_map(classed).collect()
}
