use super::limbs_kept_at_12_months::{self, LIMB_RULE};
use super::subjects;
use crate::derive::Presentation;
use crate::grade::GradeRange;
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Stratum, Study};
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "threatened-limbs-kept-at-12-months",
    title: "Amputation-avoidance: threatened limbs kept at 12 months",
    words: "Of limbs that were threatened when first seen (WIfI stage 3 or 4, or gangrene), one minus the cumulative \
            incidence of major amputation on day 365 or earlier, death competing. Beside it stand the amputations observed \
            and those that published studies would lead one to expect.",
    denominator: "threatened limbs with their first ulcer in the quarter",
    exclusions: "limbs whose recorded items do not tell whether they were threatened; limbs lost before; limbs whose first \
                 ulcer was first seen in the first {prevalent_window_days} days of the export, or transferred in",
    source: "WIfI stage: Mills et al., J Vasc Surg 2014;59:220-234. Expected major amputation by stage 0%, 8%, 11%, 38%: \
             van Reijen et al., Eur J Vasc Endovasc Surg 2019;58:362-371",
    caution: "As known to this practice. It makes no claim that care caused the outcome: nobody knows what would have \
              happened otherwise. The expectation comes from other clinics with wide limits.",
    context: &[],
    reading: "Of 100 legs that were in danger when first seen, how many were not lost above the ankle within a year.",
    rule: LIMB_RULE,
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::FreeAtHorizonWithExpected,
    },
    ..limbs_kept_at_12_months::MEASURE
};

/// Threatened limbs: any ulcer of the limb open on the day of the first one makes it threatened. Its stage is the worst
/// of them, known only when that is.
fn subjects(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    subjects::limbs(study, rule, |reading, limb, followed| {
        let presentations: Vec<Presentation> = reading
            .episodes
            .iter()
            .filter(|episode| episode.side == limb.side && episode.index.date == limb.index.date)
            .map(|episode| reading.presentation(episode, study.rules))
            .collect();
        let is_threatened = presentations.iter().any(|presentation| {
            presentation.wifi_stage.at_least(3) == Some(true)
                || presentation.has_gangrene() == Some(true)
        });
        let stages = || {
            presentations
                .iter()
                .map(|presentation| presentation.wifi_stage)
        };
        let lowest = stages().map(|stage| stage.lowest).max()?;
        let highest = stages().map(|stage| stage.highest).max()?;
        let worst = GradeRange::between(lowest, highest).known();
        let stratum = match worst {
            Some(4) => Stratum::Stage4,
            Some(3) => Stratum::Stage3,
            Some(_) => Stratum::GangreneAtLowerStage,
            None => Stratum::StageNotKnown,
        };
        is_threatened.then_some(FollowUp {
            stratum: Some(stratum),
            stage: worst,
            ..followed
        })
    })
}
