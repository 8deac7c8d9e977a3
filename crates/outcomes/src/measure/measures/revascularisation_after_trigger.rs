use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_TRIGGER, wait_rule};
use crate::measure::Measure;
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "revascularisation-after-trigger",
    title: "Revascularisation after the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share revascularised, openly or through the vessel, within 1, 7, 14 and 28 days of the first trigger. One up to {referral_look_back_days} days before it counts as day 0. Healing of the limb, major amputation and death can come first.",
    numerator: "limbs revascularised by that day",
    caution: "Many limbs with a trigger need no revascularisation, and some cannot have it: a higher share is not better by itself. As far as the practice was told.",
    context: &[],
    direction: "neither",
    reading: "Of 100 legs that showed a sign of poor blood supply, how many had their blood supply restored by then.",
    rule: wait_rule(&[Outcome::Revascularisation], FROM_TRIGGER),
    ..vascular_referral_after_trigger::MEASURE
};
