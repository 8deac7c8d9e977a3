use super::risk_tier_distribution::{self, under_care};
use crate::grade::screening_interval;
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;
use crate::tables::Dated;
use chrono::Months;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "foot-exam-overdue",
    title: "Foot examination overdue for the tier",
    words: "Of people under care without an open wound at a quarter's end, the share whose last examination of the feet lay longer back than the IWGDF interval of the tier found then: 12 months for tiers 0 and 1, 6 for tier 2, 3 for tier 3. Over a year the ends of its four quarters are counted together.",
    numerator: "people at a quarter's end whose examination was overdue",
    denominator: "people alive, seen in the {seen_within_months} months before and without an open wound, at quarter ends in the quarter",
    exclusions: "people with an open wound, who are seen for that; people who had died or had not been seen for {seen_within_months} months",
    source: "Longest intervals of the IWGDF prevention guideline 2023, Diabetes Metab Res Rev 2024;40(3):e3651",
    caution: "A tier that is not exactly known counts with the longest interval it allows. People never examined count as overdue. Local recall rules may differ.",
    direction: "worse",
    reading: "Of 100 people under care without a wound, how many were due for an examination and had none.",
    rule: Rule {
        clock: "the last day of the quarter",
        ..risk_tier_distribution::MEASURE.rule
    },
    method: Method::Status { answers },
    ..risk_tier_distribution::MEASURE
};

/// One answer a person and quarter's end, as known on that day.
fn answers(study: &Study<'_>, _: &Rule) -> Vec<Answer> {
    let mut answers = Vec::new();
    let ends = study.quarter_ends();
    for person in study.people {
        for &end in &ends {
            let Some(standing) = under_care(study, person, end) else {
                continue;
            };
            if standing.has_open_wound(end, study.rules) != Some(false) {
                continue;
            }
            let is_overdue = standing.newest_tier(study.rules).is_none_or(|newest| {
                let interval = screening_interval(newest.tier.lowest);
                let due = interval.and_then(|every| {
                    let months = Months::new(every.longest_months);
                    newest.at.date.checked_add_months(months)
                });
                due.is_some_and(|due| due < end)
            });
            answers.push(Answer {
                cluster: person.person.key,
                index: Dated::new(end, person.person.patient.source),
                place: None,
                is_yes: Some(is_overdue),
            });
        }
    }
    answers
}
