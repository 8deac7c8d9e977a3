use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_REFERRAL, from_referral, wait_rule};
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "revascularisation-after-referral",
    title: "Revascularisation after referral",
    words: "Of limbs referred to a vascular service after a trigger, the share revascularised within 1, 7, 14 and 28 days of the referral (of the trigger, where the referral came before it). Healing of the limb, major amputation and death can come first.",
    numerator: "limbs revascularised by that day",
    denominator: "limbs with a vascular trigger whose referral fell in the quarter",
    exclusions: "limbs never referred; limbs that had healed, were lost or whose owner had died before the referral",
    source: "Rule of this project; triggers as for the referral",
    caution: "As far as the practice was told: what happens in another house is known only when somebody wrote it down.",
    context: &[
        "Where revascularisation is needed: within 5 days of referral for people in hospital, 14 days for others; the audit found the limit passed for 54% and 83% of them: Vascular Society of Great Britain and Ireland, framework for peripheral arterial disease, 2019",
    ],
    direction: "neither",
    reading: "Of 100 legs referred, how many had their blood supply restored by then; not every leg needs it.",
    rule: wait_rule(&[Outcome::Revascularisation], FROM_REFERRAL),
    method: Method::FollowUp {
        subjects: from_referral,
        summary: FollowUpSummary::IncidenceAt {
            days: &[1, 7, 14, 28],
            headline_day: 14,
        },
    },
    ..vascular_referral_after_trigger::MEASURE
};
