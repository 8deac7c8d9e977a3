use super::vascular_referral_after_trigger;
use super::vascular_waits::{FROM_TRIGGER, wait_rule};
use crate::measure::Measure;
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "vascular-imaging-after-trigger",
    title: "Vascular imaging after the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share with vascular imaging (duplex, angiography) within 1, 7, 14 and 28 days of the first trigger. One up to {referral_look_back_days} days before it counts as day 0. Healing of the limb, major amputation and death can come first.",
    numerator: "limbs imaged by that day",
    caution: "Imaging done elsewhere is known only when somebody wrote it down. Not every trigger calls for imaging; local protocol decides.",
    context: &[],
    reading: "Of 100 legs that showed a sign of poor blood supply, how many had their arteries imaged by then.",
    rule: wait_rule(&[Outcome::VascularImaging], FROM_TRIGGER),
    ..vascular_referral_after_trigger::MEASURE
};
