//! Waits on the vascular pathway, from the first trigger of a limb or from its referral.
//!
//! Every step is timed in whatever order it came. A step up to the look-back before the trigger counts as day 0 and is
//! remarked on; healing of the limb, its major amputation and death end the wait.

use crate::derive::{PersonOutcomes, VascularPathway, View};
use crate::measure::{FollowUp, Place, Remark, Stratum, Study, follow_up};
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};
use crate::tables::{Dated, Origin, Region, UlcerObservation};
use chrono::NaiveDate;

/// What can come before any step.
pub(super) const ENDS: &[Outcome] = &[
    Outcome::LimbHealed,
    Outcome::MajorAmputation,
    Outcome::Death,
];

/// The wait for one step, from the first trigger.
pub(super) const fn wait_rule(event: &'static [Outcome], clock: &'static str) -> Rule {
    Rule {
        unit: UnitOfAnalysis::Limb,
        clock,
        entry_day: 0,
        event,
        competing: ENDS,
        censoring: Censoring::LastVisit,
        known: KnownRule::Censored,
        horizon_days: 28,
    }
}

pub(super) const FROM_TRIGGER: &str =
    "the first day on which a trigger is met while an ulcer of the limb is open";

pub(super) const FROM_REFERRAL: &str =
    "the day of the vascular referral, or of the trigger where the referral came before it";

/// Limbs whose first trigger, as known at the end of the horizon, fell on the day they are counted on.
pub(super) fn from_trigger(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    let known = |pathway: &VascularPathway| Some(pathway.at);
    let pathways = known_pathways(study, rule.horizon_days, known);
    let waits = pathways.into_iter().filter_map(|known| {
        let was_before = rule.event.iter().any(|step| {
            known
                .pathway
                .step(*step)
                .is_some_and(|step| step.was_before)
        });
        let remark = was_before.then_some(Remark::BeforeTrigger);
        let wait = wait(rule, &known, known.pathway.at)?;
        Some(FollowUp { remark, ..wait })
    });
    waits.collect()
}

/// Limbs referred before anything ended the wait, from the day of the referral on.
pub(super) fn from_referral(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    let pathways = known_pathways(study, rule.horizon_days, referral);
    let waits = pathways.into_iter().filter_map(|known| {
        let start = referral(&known.pathway)?;
        let was_before = rule.event.iter().any(|step| {
            let step = known.pathway.step(*step);
            step.is_some_and(|step| step.at.date < start.date)
        });
        let remark = was_before.then_some(Remark::BeforeReferral);
        let wait = wait(rule, &known, start)?;
        Some(FollowUp { remark, ..wait })
    });
    waits.collect()
}

/// Day and row of the referral, on the trigger's day at the earliest; `None` where healing, a major amputation or death
/// came on an earlier day.
fn referral(pathway: &VascularPathway) -> Option<Dated> {
    let referral = pathway.referral?.at;
    let date = referral.date.max(pathway.at.date);
    let is_open = pathway.ends().all(|(_, end)| end.date >= date);
    is_open.then_some(Dated::new(date, referral.source))
}

fn wait(rule: &Rule, known: &KnownPathway, start: Dated) -> Option<FollowUp> {
    let pathway = &known.pathway;
    let outcomes = pathway
        .outcomes()
        .map(|(outcome, at)| (outcome, Dated::new(at.date.max(start.date), at.source)));
    let subject = follow_up(rule, pathway.patient, start, outcomes, known.seen_to)?;
    Some(FollowUp {
        place: Some(Place::leg(pathway.side)),
        stratum: Some(urgency(pathway)),
        ..subject
    })
}

fn urgency(pathway: &VascularPathway) -> Stratum {
    if pathway.trigger.is_urgent() {
        Stratum::UrgentTrigger
    } else {
        Stratum::RoutineTrigger
    }
}

/// A pathway as known at the end of its own evidence horizon.
#[derive(Debug, Clone)]
pub(in crate::measure) struct KnownPathway {
    /// The pathway.
    pub(in crate::measure) pathway: VascularPathway,
    /// Last day on which somebody of the clinic saw the person, as known then.
    pub(in crate::measure) seen_to: NaiveDate,
}

/// The pathways of everybody, each as known at the end of the evidence horizon that begins on the day `start` gives.
pub(in crate::measure) fn known_pathways(
    study: &Study<'_>,
    horizon_days: i64,
    start: impl Fn(&VascularPathway) -> Option<Dated>,
) -> Vec<KnownPathway> {
    let mut known = Vec::new();
    for person in study.people {
        known_pathways_of(study, horizon_days, person, &start, &mut known);
    }
    known
}

/// Whether a label was told of as an ulcer of the foot first, and as a surgical wound, one above the foot or a part of another
/// later: the reading at the cut-off may know no trigger of it, though there was one on its day.
fn may_be_another_wound_later(rows: &[UlcerObservation]) -> bool {
    let is_other = |row: &UlcerObservation| {
        row.origin == Some(Origin::PostSurgical)
            || row
                .site
                .is_some_and(|site| site.region == Region::AboveFoot)
    };
    let is_part = |row: &UlcerObservation| row.parent.is_some() || row.merged_into.is_some();
    if rows.iter().any(|row| is_part(row) && !is_other(row)) {
        return true;
    }
    rows.iter().filter(|row| is_other(row)).any(|row| {
        rows.iter().any(|before| {
            (before.side, before.label) == (row.side, row.label)
                && before.date < row.date
                && !is_other(before)
        })
    })
}

/// A pathway counts on a day when it starts on it by what was known at the end of that day's horizon. Later rows can move
/// the start, so every start that turns up on the way is a day to look at.
fn known_pathways_of(
    study: &Study<'_>,
    horizon_days: i64,
    person: &PersonOutcomes<'_>,
    start: &impl Fn(&VascularPathway) -> Option<Dated>,
    known: &mut Vec<KnownPathway>,
) {
    let mut days: Vec<NaiveDate> = Vec::new();
    let note = |days: &mut Vec<NaiveDate>, date: NaiveDate| {
        if !days.contains(&date) {
            days.push(date);
        }
    };
    for at in person.pathways.iter().filter_map(start) {
        note(&mut days, at.date);
    }
    if may_be_another_wound_later(person.person.observations) {
        let seen = person.person.observations.iter().map(|row| row.date);
        let examined = person.person.foot_exams.iter().map(|exam| exam.date);
        let events = person.person.events.iter().map(|event| event.date);
        for day in seen.chain(examined).chain(events) {
            note(&mut days, day);
        }
    }
    let mut position = 0;
    while let Some(day) = days.get(position).copied() {
        position += 1;
        let view: View<'_> = study.view(day, horizon_days);
        let reading = person.reading_at(&view);
        let seen_to = reading.person.last_seen().unwrap_or(day);
        for pathway in reading.pathways(&view) {
            match start(pathway) {
                Some(at) if at.date == day => known.push(KnownPathway {
                    pathway: pathway.clone(),
                    seen_to,
                }),
                Some(at) => note(&mut days, at.date),
                None => {}
            }
        }
    }
}
