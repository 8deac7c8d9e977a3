use crate::derive::{PersonOutcomes, VascularPathway};
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Study, follow_up};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};
use chrono::NaiveDate;

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
    rule: Rule {
        unit: UnitOfAnalysis::Limb,
        clock: "the first day on which a trigger is met while an ulcer of the limb is open",
        entry_day: 0,
        event: &[Outcome::VascularReferral],
        competing: &[
            Outcome::LimbHealed,
            Outcome::MajorAmputation,
            Outcome::Death,
        ],
        censoring: Censoring::LastVisit,
        known: KnownRule::Censored,
        horizon_days: 28,
    },
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::IncidenceAt {
            days: &[1, 7, 14, 28],
            headline_day: 14,
        },
    },
};

fn subjects(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    study
        .people
        .iter()
        .flat_map(|person| of_person(study, rule, person))
        .collect()
}

/// Limbs whose first trigger, as known at the end of its horizon, fell on the day it is counted on.
fn of_person(study: &Study<'_>, rule: &Rule, person: &PersonOutcomes<'_>) -> Vec<FollowUp> {
    let mut followed = Vec::new();
    let mut days: Vec<NaiveDate> = person
        .pathways
        .iter()
        .map(|pathway| pathway.at.date)
        .collect();
    let mut position = 0;
    while let Some(day) = days.get(position).copied() {
        position += 1;
        let view = study.view(day, rule.horizon_days);
        let reading = person.reading_at(&view);
        for pathway in reading.pathways(&view) {
            if pathway.at.date != day {
                // Later rows moved the trigger: what was known then is counted on the day known then.
                if !days.contains(&pathway.at.date) {
                    days.push(pathway.at.date);
                }
                continue;
            }
            let known_to = reading.person.last_seen().unwrap_or(day);
            let subject = follow_up(
                rule,
                pathway.patient,
                pathway.at,
                &pathway.outcomes(),
                known_to,
            );
            let remark = pathway
                .referral
                .filter(|step| step.was_before)
                .map(|_| "referred before the trigger, counted as day 0");
            followed.extend(subject.map(|subject| FollowUp {
                stratum: Some(urgency(&pathway)),
                remark,
                ..subject
            }));
        }
    }
    followed
}

fn urgency(pathway: &VascularPathway) -> &'static str {
    if pathway.trigger.is_urgent() {
        "urgent trigger"
    } else {
        "routine trigger"
    }
}
