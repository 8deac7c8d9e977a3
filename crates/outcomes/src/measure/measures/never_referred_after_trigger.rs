use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_TRIGGER, KnownPathway, known_pathways};
use crate::measure::{Answer, Measure, Method, Place, Study};
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis, days_between};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "never-referred-after-trigger",
    title: "Not referred within 12 weeks of the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share for which no vascular referral was recorded by day \
            84, from {referral_look_back_days} days before the trigger on. A limb that healed, was lost above the ankle or \
            whose owner died before any referral was never referred.",
    numerator: "limbs not referred by day 84",
    denominator: "limbs whose first trigger fell in the quarter, with a known answer",
    exclusions: "limbs without an open ulcer when the trigger was met; unknown, and in the bounds: limbs not referred whose \
                 owner was last seen here before day 84",
    caution: "A limb may have been referred by somebody else. Some limbs are rightly not referred: local protocol decides.",
    context: &[],
    direction: "worse",
    reading: "Of 100 legs that showed a sign of poor blood supply, how many nobody had referred 12 weeks later.",
    rule: Rule {
        unit: UnitOfAnalysis::Limb,
        clock: FROM_TRIGGER,
        entry_day: 0,
        event: &[],
        competing: &[],
        censoring: Censoring::Nothing,
        known: KnownRule::KnownOnly,
        horizon_days: 84,
    },
    method: Method::Status { answers },
    ..vascular_referral_after_trigger::MEASURE
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    let known = known_pathways(study, rule.horizon_days, |pathway| Some(pathway.at));
    known
        .iter()
        .map(|known| Answer {
            cluster: known.pathway.patient,
            index: known.pathway.at,
            place: Some(Place::leg(known.pathway.side)),
            is_yes: is_never_referred(known, rule.horizon_days),
        })
        .collect()
}

/// Whether nobody had referred the limb by a day; `None` where it was open and its owner out of sight before that day.
fn is_never_referred(known: &KnownPathway, by_day: i64) -> Option<bool> {
    let pathway = &known.pathway;
    let first = pathway
        .outcomes()
        .filter(|(outcome, _)| *outcome == Outcome::VascularReferral || is_end(*outcome))
        .map(|(outcome, at)| (days_between(pathway.at.date, at.date), outcome))
        .min()
        .filter(|(day, _)| *day <= by_day);
    match first {
        Some((_, outcome)) => Some(outcome != Outcome::VascularReferral),
        None => (days_between(pathway.at.date, known.seen_to) >= by_day).then_some(true),
    }
}

fn is_end(outcome: Outcome) -> bool {
    super::vascular_waits::ENDS.contains(&outcome)
}
