use super::risk_tier_distribution::{self, ACTIVE, NOT_GRADABLE, class_of};
use crate::measure::{ClassPlace, Measure, Method, Study};
use crate::rules::Quarter;
use crate::tables::PatientKey;

const CLASSES: &[&str] = &[
    "same tier",
    "to a higher tier",
    "to a lower tier",
    "wound open at both ends",
    "new open wound",
    "wound closed",
    "not gradable at one end or both",
];

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "tier-movement",
    title: "Movement between tiers in a quarter",
    words: "Of people under care at the end of a quarter and of the one before, how their class changed. Each end is taken as it was known then.",
    numerator: "people with that change",
    denominator: "people alive and seen in the {seen_within_months} months before the quarter's end, and before the end of the quarter before",
    exclusions: "people under care at one of the two ends only",
    caution: "Tiers rise when more is found out, too: a first test of sensation can move a person without the foot having changed. A healed ulcer leaves a person in tier 3.",
    reading: "Share of the people under care at both ends with each change.",
    method: Method::Snapshot {
        classes: CLASSES,
        classify,
    },
    ..risk_tier_distribution::MEASURE
};

fn classify(study: &Study<'_>, quarter: Quarter) -> Vec<(PatientKey, ClassPlace)> {
    let (before, now) = (quarter.back(1).end(), quarter.end());
    let moved = study.people.iter().filter_map(|person| {
        let change = change(
            class_of(study, person, before)?,
            class_of(study, person, now)?,
        );
        Some((person.person.key, change))
    });
    moved.collect()
}

fn change(before: ClassPlace, now: ClassPlace) -> ClassPlace {
    match (before, now) {
        (NOT_GRADABLE, _) | (_, NOT_GRADABLE) => 6,
        (ACTIVE, ACTIVE) => 3,
        (_, ACTIVE) => 4,
        (ACTIVE, _) => 5,
        (before, now) if now > before => 1,
        (before, now) if now < before => 2,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_pair_of_classes_has_one_change() {
        // tier 0 to 3, open wound, not gradable; rows before, columns now
        let expected = [
            [0, 1, 1, 1, 4, 6],
            [2, 0, 1, 1, 4, 6],
            [2, 2, 0, 1, 4, 6],
            [2, 2, 2, 0, 4, 6],
            [5, 5, 5, 5, 3, 6],
            [6, 6, 6, 6, 6, 6],
        ];
        for (before, row) in (0..).zip(expected) {
            for (now, change) in (0..).zip(row) {
                assert_eq!(super::change(before, now), change, "{before} {now}");
            }
        }
    }
}
