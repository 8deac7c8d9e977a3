//! The action list: who should be looked at, by which rule and since when.

use super::{Material, trace};
use crate::blocks::in_blocks;
use crate::derive::{AreaPoint, Episode, EpisodeEnd, PersonOutcomes, View};
use crate::grade::{
    GradeRange, SMALLEST_FIRST_AREA_CM2, area_reduction_percent, four_week_reading,
};
use crate::report::ActionItem;
use crate::rules::days_between;
use crate::tables::{Attendance, Dated, EventKind, Side};
use chrono::Months;

/// Rules of the list, most urgent first.
const RULES: &[&str] = &[
    "urgent-vascular-trigger",
    "vascular-trigger-no-referral",
    "missed-visit-without-later-one",
    "open-and-unseen",
    "open-too-long",
    "area-not-halved-at-4-weeks",
    "offloading-not-dispensed",
    "closed-not-confirmed",
    "tier-exam-overdue",
];

/// Who should be looked at, by the urgency of the rule, then the longest wait. Left out are people who have died, people
/// transferred out and not seen here since, and people not seen for longer than the rules give.
pub(super) fn action_list(material: &Material<'_>) -> Vec<ActionItem> {
    let of_people = |people: &[PersonOutcomes<'_>]| -> Vec<ActionItem> {
        let under_care = people
            .iter()
            .filter(|person| is_under_care(material, person));
        under_care
            .flat_map(|person| {
                let ulcers = ulcer_items(material, person);
                ulcers
                    .into_iter()
                    .chain(vascular_items(material, person))
                    .chain(missed_visit(material, person))
                    .chain(overdue_exam(material, person))
            })
            .collect()
    };
    let mut items = in_blocks(material.people, of_people).concat();
    items.sort_by(|left, right| {
        let rank = |item: &ActionItem| RULES.iter().position(|rule| *rule == item.rule);
        rank(left)
            .cmp(&rank(right))
            .then(right.days.cmp(&left.days))
            .then_with(|| (&left.patient, &left.place).cmp(&(&right.patient, &right.place)))
    });
    items
}

fn is_under_care(material: &Material<'_>, person: &PersonOutcomes<'_>) -> bool {
    let Some(last_seen) = person.reading.person.last_seen() else {
        return false;
    };
    let facts = &person.reading.facts;
    let has_left = facts
        .transfers_out
        .iter()
        .any(|transfer| transfer.date >= last_seen);
    let months = Months::new(material.rules.action_seen_within_months);
    let oldest = material.horizon.cut_off.checked_sub_months(months);
    facts.death.is_none() && !has_left && oldest.is_none_or(|oldest| last_seen > oldest)
}

struct Reason {
    rule: &'static str,
    reason: String,
    days: i64,
    clears_when: &'static str,
    is_urgent: bool,
    at: Dated,
}

fn item(
    material: &Material<'_>,
    person: &PersonOutcomes<'_>,
    place: String,
    reason: Reason,
) -> ActionItem {
    ActionItem {
        patient: person.person.patient.id.clone(),
        place,
        rule: reason.rule.to_owned(),
        reason: reason.reason,
        days: reason.days,
        clears_when: reason.clears_when.to_owned(),
        is_urgent: reason.is_urgent,
        trace: trace(material.tables, reason.at.source),
    }
}

fn place_of(material: &Material<'_>, episode: &Episode) -> String {
    let label = material.tables.names.get(episode.label);
    match episode.site {
        Some(site) => format!("{} {} (ulcer {label})", episode.side, site.code()),
        None => format!("{} foot (ulcer {label})", episode.side),
    }
}

fn ulcer_items(material: &Material<'_>, person: &PersonOutcomes<'_>) -> Vec<ActionItem> {
    let rules = material.rules;
    let today = material.horizon.cut_off;
    let mut items = Vec::new();
    for episode in &person.reading.episodes {
        let days_open = days_between(episode.index.date, today);
        let days_unseen = days_between(episode.last_known.date, today);
        let mut reasons = Vec::new();
        match (episode.end, episode.closure) {
            (EpisodeEnd::Open | EpisodeEnd::Lost, _) => {
                if days_unseen >= rules.action_unseen_days {
                    reasons.push(Reason {
                        rule: "open-and-unseen",
                        reason: format!("open when last seen, not seen for {days_unseen} days"),
                        days: days_unseen - rules.action_unseen_days,
                        clears_when: "a visit that records the ulcer",
                        is_urgent: false,
                        at: episode.last_known,
                    });
                }
                if days_open > rules.action_open_days {
                    reasons.push(Reason {
                        rule: "open-too-long",
                        reason: format!("open for {days_open} days"),
                        days: days_open - rules.action_open_days,
                        clears_when: "a clinician sees it closed",
                        is_urgent: false,
                        at: episode.last_known,
                    });
                } else if let Some(at) =
                    not_halved_at_4_weeks(episode, &person.reading.areas(episode, rules))
                {
                    reasons.push(Reason {
                        rule: "area-not-halved-at-4-weeks",
                        reason: "less than half the area gone about 4 weeks after the first visit"
                            .to_owned(),
                        days: days_between(at.date, today),
                        clears_when: "closed, or open too long (then that rule applies)",
                        is_urgent: false,
                        at,
                    });
                }
                if let Some(at) = offloading_owed(person, episode) {
                    let days = days_between(at.date, today);
                    reasons.extend((days > 0).then(|| Reason {
                        rule: "offloading-not-dispensed",
                        reason: format!(
                            "offloading prescribed {}, none recorded as dispensed",
                            ago(days)
                        ),
                        days,
                        clears_when: "a device recorded as dispensed, or the ulcer closed",
                        is_urgent: false,
                        at,
                    }));
                }
            }
            (EpisodeEnd::Healed, Some(closure)) if closure.confirmed.is_none() => {
                let days = days_between(closure.first_closed.date, today);
                if days >= rules.confirmation_gap_days && days <= rules.lost_after_days {
                    reasons.push(Reason {
                        rule: "closed-not-confirmed",
                        reason: format!(
                            "closed {days} days ago and not confirmed at a second visit"
                        ),
                        days: days - rules.confirmation_gap_days,
                        clears_when: "a second visit that sees it closed",
                        is_urgent: false,
                        at: closure.first_closed,
                    });
                }
            }
            _ => {}
        }
        items.extend(
            reasons
                .into_iter()
                .map(|reason| item(material, person, place_of(material, episode), reason)),
        );
    }
    items
}

/// The four-week reading, where it finds less than half of the first area gone.
fn not_halved_at_4_weeks(episode: &Episode, areas: &[AreaPoint]) -> Option<Dated> {
    let first = areas
        .first()
        .filter(|point| point.at.date == episode.index.date)?;
    let days: Vec<i64> = areas.iter().map(|point| episode.day_of(point.at)).collect();
    let reading = areas.get(four_week_reading(&days)?)?;
    let gone = area_reduction_percent(first.area_cm2, reading.area_cm2, SMALLEST_FIRST_AREA_CM2)?;
    (gone < 50.0).then_some(reading.at)
}

/// Limbs whose present wounds met a trigger: an urgent one until the vascular service has seen them, any other until
/// somebody has referred them.
fn vascular_items(material: &Material<'_>, person: &PersonOutcomes<'_>) -> Vec<ActionItem> {
    let today = material.horizon.cut_off;
    let view = View {
        until: today,
        rules: material.rules,
        horizon: material.horizon,
    };
    let pathways = person.reading.present_pathways(&view).into_iter();
    let waiting = pathways.filter(|pathway| {
        let is_waiting = pathway.seen.is_none() && pathway.revascularisation.is_none();
        let is_referred = pathway.referral.is_some();
        pathway.ends().next().is_none()
            && is_waiting
            && (pathway.trigger.is_urgent() || !is_referred)
    });
    waiting
        .map(|pathway| {
            let is_urgent = pathway.trigger.is_urgent();
            let referred = match pathway.referral {
                Some(step) => format!(
                    "referred {}, not recorded as seen by the vascular service",
                    ago(days_between(step.at.date, today))
                ),
                None => "no vascular referral recorded".to_owned(),
            };
            let reason = Reason {
                rule: if is_urgent {
                    "urgent-vascular-trigger"
                } else {
                    "vascular-trigger-no-referral"
                },
                reason: format!("{}; {referred}", pathway.trigger),
                days: days_between(pathway.at.date, today),
                clears_when: if is_urgent {
                    "seen by the vascular service, or revascularised"
                } else {
                    "a recorded vascular referral, or seen there"
                },
                is_urgent,
                at: pathway.at,
            };
            item(material, person, leg(pathway.side), reason)
        })
        .collect()
}

fn ago(days: i64) -> String {
    match days {
        0 => "today".to_owned(),
        1 => "1 day ago".to_owned(),
        _ => format!("{days} days ago"),
    }
}

/// The first visit missed since the person was last seen.
fn missed_visit(material: &Material<'_>, person: &PersonOutcomes<'_>) -> Option<ActionItem> {
    let known = &person.reading.person;
    let last_seen = known.last_seen()?;
    let missed = known
        .visits
        .iter()
        .find(|visit| visit.attendance == Attendance::Missed && visit.date > last_seen)?;
    let days = days_between(missed.date, material.horizon.cut_off);
    let reason = Reason {
        rule: "missed-visit-without-later-one",
        reason: format!("visit missed {}, not seen since", ago(days)),
        days,
        clears_when: "a kept visit",
        is_urgent: false,
        at: Dated::new(missed.date, missed.source),
    };
    Some(item(material, person, "person".to_owned(), reason))
}

/// The first day of an open ulcer's episode on which offloading was prescribed for that foot, when no device has been
/// recorded as dispensed or supplied since.
fn offloading_owed(person: &PersonOutcomes<'_>, episode: &Episode) -> Option<Dated> {
    let known = &person.reading.person;
    let rows = known
        .observations
        .iter()
        .filter(|row| row.side == episode.side && row.date >= episode.index.date);
    let prescribed = rows
        .clone()
        .find(|row| row.label == episode.label && row.offloading_prescribed == Some(true))?;
    let is_dispensed = rows
        .clone()
        .any(|row| row.date >= prescribed.date && row.offloading_dispensed == Some(true));
    let is_supplied = known.events.iter().any(|event| {
        event.kind == EventKind::OffloadingSupplied
            && event.side.is_none_or(|side| side == episode.side)
            && event.date >= prescribed.date
    });
    let is_owed = !is_dispensed && !is_supplied;
    is_owed.then_some(Dated::new(prescribed.date, prescribed.source))
}

fn leg(side: Side) -> String {
    format!("{side} leg")
}

/// Longest time between examinations of a tier, in calendar months: 12, 12, 6, 3.
/// Source: IWGDF prevention guideline 2023 (upper bounds of its intervals).
fn months_between_exams(tier: GradeRange) -> u32 {
    match tier.lowest {
        0 | 1 => 12,
        2 => 6,
        _ => 3,
    }
}

fn overdue_exam(material: &Material<'_>, person: &PersonOutcomes<'_>) -> Option<ActionItem> {
    let today = material.horizon.cut_off;
    let newest = person.reading.newest_tier(material.rules)?;
    if person.reading.has_open_wound(today, material.rules) == Some(true) {
        return None;
    }
    let due = newest
        .at
        .date
        .checked_add_months(Months::new(months_between_exams(newest.tier)))?;
    let days = days_between(due, today);
    (days > 0).then(|| {
        let tier = newest.tier.known().map_or_else(
            || match newest.tier.lowest {
                0 => "tier not known".to_owned(),
                lowest => format!("tier at least {lowest}"),
            },
            |tier| format!("tier {tier}"),
        );
        let reason = Reason {
            rule: "tier-exam-overdue",
            reason: format!("{tier}, foot examination due {days} days ago"),
            days,
            clears_when: "a foot examination",
            is_urgent: false,
            at: newest.at,
        };
        item(material, person, "both feet".to_owned(), reason)
    })
}
