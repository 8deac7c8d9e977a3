use super::subjects;
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Stratum, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};

pub(super) const LIMB_RULE: Rule = Rule {
    unit: UnitOfAnalysis::Limb,
    clock: "the limb's first ulcer in view; later ulcers do not restart it, healing does not end it",
    entry_day: 0,
    event: &[Outcome::MajorAmputation],
    competing: &[Outcome::Death],
    censoring: Censoring::LimbsKnownTo,
    known: KnownRule::AsTold,
    horizon_days: 365,
};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "limbs-kept-at-12-months",
    family: "limbs",
    title: "Limbs kept at 12 months",
    words: "One minus the cumulative incidence of major amputation on day 365 or earlier, counted from the limb's first \
            ulcer here. Death competes: a leg cannot be lost after it.",
    numerator: "limbs without a known major amputation on day 365 or earlier",
    denominator: "limbs with their first ulcer in the quarter",
    exclusions: "limbs lost before; limbs whose first ulcer was first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "Limb salvage as one minus a cumulative incidence with death competing: common practice, no source",
    caution: "As known to this practice: amputations done elsewhere and never reported are missing, so the true figure is probably lower.",
    context: &[
        "Within two years, of 17,353 high-risk feet 270 were amputated and 2,424 people died: Diabetologia 2018",
    ],
    direction: "better",
    reading: "Of 100 legs with a first ulcer, how many were not lost above the ankle within a year.",
    unit: Unit::Share,
    rule: LIMB_RULE,
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::FreeAtHorizon,
    },
};

fn subjects(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    subjects::limbs(study, rule, |_, limb, followed| {
        let stratum = match limb.had_minor_before {
            Some(true) => Stratum::EarlierMinor,
            Some(false) => Stratum::NoEarlierMinor,
            None => Stratum::EarlierMinorNotRecorded,
        };
        Some(FollowUp {
            stratum: Some(stratum),
            ..followed
        })
    })
}
