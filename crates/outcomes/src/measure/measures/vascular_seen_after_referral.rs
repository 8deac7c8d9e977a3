use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_REFERRAL, from_referral, wait_rule};
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "vascular-seen-after-referral",
    title: "Seen by a vascular service after referral",
    words: "Of limbs referred to a vascular service after a trigger, the share seen there within 1, 7, 14 and 28 days of the referral (of the trigger, where the referral came before it). Healing of the limb, major amputation and death can come first.",
    numerator: "limbs seen by that day",
    denominator: "limbs with a vascular trigger whose referral fell in the quarter",
    exclusions: "limbs never referred; limbs that had healed, were lost or whose owner had died before the referral",
    source: "Rule of this project; triggers as for the referral",
    caution: "As far as the practice was told: what happens in another house is known only when somebody wrote it down.",
    context: &[
        "An outpatient review within 7 days is asked for by the Vascular Society of Great Britain and Ireland, framework for peripheral arterial disease, 2019",
    ],
    reading: "Of 100 legs referred, how many the vascular service had seen by then.",
    rule: wait_rule(&[Outcome::VascularSeen], FROM_REFERRAL),
    method: Method::FollowUp {
        subjects: from_referral,
        summary: FollowUpSummary::IncidenceAt {
            days: &[1, 7, 14, 28],
            headline_day: 14,
        },
    },
    ..vascular_referral_after_trigger::MEASURE
};
