use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_TRIGGER, wait_rule};
use crate::measure::Measure;
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "vascular-screen-after-trigger",
    title: "Bedside vascular screen after the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share with a bedside vascular screen (hand-held Doppler, pressures) recorded within 1, 7, 14 and 28 days of the first trigger. One up to {referral_look_back_days} days before it counts as day 0. Healing of the limb, major amputation and death can come first.",
    numerator: "limbs screened at the bedside by that day",
    caution: "A screen that was done and not recorded as an event is missing here; measured pressures alone do not count as this step.",
    context: &[],
    reading: "Of 100 legs that showed a sign of poor blood supply, how many had been screened at the bedside by then.",
    rule: wait_rule(&[Outcome::BedsideScreen], FROM_TRIGGER),
    ..vascular_referral_after_trigger::MEASURE
};
