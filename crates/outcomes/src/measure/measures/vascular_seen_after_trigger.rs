use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_TRIGGER, wait_rule};
use crate::measure::Measure;
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "vascular-seen-after-trigger",
    title: "Seen by a vascular service after the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share seen by a vascular service within 1, 7, 14 and 28 days of the first trigger. One up to {referral_look_back_days} days before it counts as day 0. Healing of the limb, major amputation and death can come first.",
    numerator: "limbs seen by a vascular service by that day",
    caution: "Visits elsewhere are known only when somebody wrote them down, so the true figure may be higher.",
    context: &[],
    reading: "Of 100 legs that showed a sign of poor blood supply, how many a vascular service had seen by then.",
    rule: wait_rule(&[Outcome::VascularSeen], FROM_TRIGGER),
    ..vascular_referral_after_trigger::MEASURE
};
