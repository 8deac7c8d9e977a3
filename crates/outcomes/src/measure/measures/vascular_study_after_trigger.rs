use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_TRIGGER, wait_rule};
use crate::measure::Measure;
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "vascular-study-after-trigger",
    title: "Physiologic study after the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share with a physiologic study (laboratory pressures, toe pressure, waveforms) within 1, 7, 14 and 28 days of the first trigger. One up to {referral_look_back_days} days before it counts as day 0. Healing of the limb, major amputation and death can come first.",
    numerator: "limbs with a physiologic study by that day",
    caution: "Studies done elsewhere are known only when somebody wrote them down. A study before the referral is legal and counts.",
    context: &[],
    reading: "Of 100 legs that showed a sign of poor blood supply, how many had been measured in a vascular laboratory by then.",
    rule: wait_rule(&[Outcome::PhysiologicStudy], FROM_TRIGGER),
    ..vascular_referral_after_trigger::MEASURE
};
