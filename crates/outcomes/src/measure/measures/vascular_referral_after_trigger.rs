use crate::derive::VascularPathway;
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Study, follow_up};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "vascular-referral-after-trigger",
    family: "vascular",
    title: "Vascular referral after the first trigger",
    words: "Of limbs with an ulcer that met a vascular trigger, the share referred to a vascular service within 1, 7, 14 \
            and 28 days of the first trigger. A referral up to 90 days before it counts as day 0. Healing of the limb, \
            major amputation and death can come first.",
    numerator: "limbs referred by that day",
    denominator: "limbs whose first trigger fell in the quarter",
    exclusions: "limbs without an open ulcer when the trigger was met; later triggers of the same limb",
    source: "Triggers: IWGDF/ESVS/SVS 2023 (from memory), Global Vascular Guidelines 2019",
    caution: "A trigger is a reason to ask a vascular opinion by local protocol, not an order. Referrals made elsewhere are \
              known only when somebody wrote them down.",
    context: &[
        "NICE NG19 asks for referral of an active foot problem within 1 working day (from memory); limb-threatening \
         problems at once",
    ],
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
    let mut followed = Vec::new();
    for person in study.people {
        for pathway in &person.pathways {
            let until = study.view(pathway.at.date, rule.horizon_days).until;
            let outcomes: Vec<_> = pathway
                .outcomes()
                .into_iter()
                .filter(|(_, at)| at.date <= until)
                .collect();
            let last_seen = person.history.person.seen_days(until).last().copied();
            let known_to = last_seen.unwrap_or(pathway.at.date);
            let subject = follow_up(rule, pathway.patient, pathway.at, &outcomes, known_to);
            followed.extend(subject.map(|subject| FollowUp {
                stratum: Some(urgency(pathway)),
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
