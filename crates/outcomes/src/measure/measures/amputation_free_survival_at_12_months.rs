use super::limbs_kept_at_12_months::{self, LIMB_RULE};
use super::subjects;
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Study};
use crate::rules::{Outcome, Rule};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "amputation-free-survival-at-12-months",
    title: "Alive with the limb at 12 months",
    words: "The share of limbs that were kept and whose owner was alive on day 365, counted from the limb's first ulcer here. \
            Death and major amputation both end it, so nothing competes.",
    numerator: "limbs not lost above the ankle whose owner was alive on day 365",
    source: "Amputation-free survival, major amputation or death as one event: common practice, no source",
    caution: "As known to this practice. Most of the losses are deaths, of which few have to do with the foot. A limb of a \
              person with two ulcerated feet is counted with that person's death twice; the interval allows for it.",
    context: &[],
    reading: "Of 100 legs with a first ulcer, how many were there a year later with their owner alive.",
    rule: Rule {
        event: &[Outcome::MajorAmputation, Outcome::Death],
        competing: &[],
        ..LIMB_RULE
    },
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::FreeAtHorizon,
    },
    ..limbs_kept_at_12_months::MEASURE
};

fn subjects(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    subjects::limbs(study, rule, |_, _, followed| Some(followed))
}
