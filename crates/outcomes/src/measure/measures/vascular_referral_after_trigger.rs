use super::vascular_waits::{FROM_TRIGGER, from_trigger, wait_rule};
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::report::Unit;
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "vascular-referral-after-trigger",
    family: "vascular",
    title: "Vascular referral after the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share referred to a vascular service within 1, 7, 14 \
            and 28 days of the first trigger. A referral up to {referral_look_back_days} days before it counts as day 0. Healing of the limb, \
            major amputation and death can come first.",
    numerator: "limbs referred by that day",
    denominator: "limbs whose first trigger fell in the quarter",
    exclusions: "limbs without an open ulcer when the trigger was met; later triggers of the same limb",
    source: "Triggers: IWGDF/ESVS/SVS 2023 (from memory), Global Vascular Guidelines 2019",
    caution: "A trigger is a reason to ask a vascular opinion by local protocol, not an order. Referrals made elsewhere are \
              known only when somebody wrote them down.",
    context: &[],
    direction: "better",
    reading: "Of 100 legs that showed a sign of poor blood supply, how many had been referred by then.",
    unit: Unit::Share,
    rule: wait_rule(&[Outcome::VascularReferral], FROM_TRIGGER),
    method: Method::FollowUp {
        subjects: from_trigger,
        summary: FollowUpSummary::IncidenceAt {
            days: &[1, 7, 14, 28],
            headline_day: 14,
        },
    },
};
