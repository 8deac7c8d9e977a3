//! Spells without an open wound, and the new ulcer that ended them.

use super::Person;
use super::episode::Episode;
use super::facts::Facts;
use super::person_episodes::{PersonEpisode, began_on};
use crate::coded;
use crate::rules::{Outcome, Rules, days_between};
use crate::tables::{AmputationLevel, Dated, PatientKey, Side};
use chrono::NaiveDate;

coded! {
    /// Where the new ulcer is, compared with the wounds of the spell's person-episode.
    pub enum RecurrencePlace {
        SameSite = "same site",
        SameFoot = "same foot, other site",
        OtherFoot = "other foot",
    }
}

/// A new ulcer after a spell without any.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recurrence {
    /// First visit where it was seen open.
    pub first_open: Dated,
    /// Last visit where the feet were seen without it, where there is one: it began after this day.
    pub last_clear: Option<Dated>,
    /// Where it is.
    pub place: RecurrencePlace,
}

/// A spell without any open wound on either foot.
#[derive(Debug, Clone, PartialEq)]
pub struct Remission {
    /// Whose.
    pub patient: PatientKey,
    /// The day the last wound was first seen closed, or removed; day 0.
    pub start: Dated,
    /// The person-episode before it ended in an amputation wound.
    pub is_after_amputation: bool,
    /// The first new ulcer.
    pub recurrence: Option<Recurrence>,
    /// Death, unless it came too long after the last examination of the feet.
    pub death: Option<Dated>,
    /// Both legs lost above the ankle.
    pub both_limbs_lost: Option<Dated>,
    /// Last examination of the feet, the start at the earliest.
    pub last_exam: Dated,
}

impl Remission {
    /// Everything that ends this spell, for the follow-up builder.
    pub fn outcomes(&self) -> Vec<(Outcome, Dated)> {
        [
            (
                Outcome::NewUlcer,
                self.recurrence.map(|recurrence| recurrence.first_open),
            ),
            (Outcome::Death, self.death),
            (Outcome::BothLimbsLost, self.both_limbs_lost),
        ]
        .into_iter()
        .filter_map(|(outcome, at)| at.map(|at| (outcome, at)))
        .collect()
    }
}

/// The remissions of one person: one after each person-episode that closed, unless a wound begun by then is not known
/// to be closed.
pub(super) fn remissions(
    person: &Person<'_>,
    episodes: &[Episode],
    closures: &[Option<Dated>],
    person_episodes: &[PersonEpisode],
    facts: &Facts,
    rules: &Rules,
) -> Vec<Remission> {
    let all_closed_on = |day: NaiveDate| {
        episodes.iter().zip(closures).all(|(wound, closed)| {
            began_on(wound, episodes, rules) > day
                || closed.is_some_and(|closed| closed.date <= day)
        })
    };
    person_episodes
        .iter()
        .filter_map(|before| Some((before, before.all_closed?)))
        .filter(|(_, start)| facts.death.is_none_or(|death| death.date > start.date))
        .filter(|(_, start)| all_closed_on(start.date))
        .map(|(before, start)| {
            let last_exam = person.foot_looks_from(start.date).max().unwrap_or(start);
            Remission {
                patient: before.patient,
                start,
                is_after_amputation: before.has_amputation,
                recurrence: recurrence(person, episodes, before, start),
                death: facts.death.filter(|death| {
                    days_between(last_exam.date, death.date) <= rules.death_link_days
                }),
                both_limbs_lost: both_limbs_lost(person, facts, start),
                last_exam,
            }
        })
        .collect()
}

fn recurrence(
    person: &Person<'_>,
    episodes: &[Episode],
    before: &PersonEpisode,
    start: Dated,
) -> Option<Recurrence> {
    let (new, place) = episodes
        .iter()
        .filter(|episode| !episode.is_post_surgical && episode.index.date > start.date)
        .map(|episode| (episode, place(episode, episodes, before)))
        // Of several that open on one day the nearest to the old wounds, whatever the order of the rows.
        .min_by_key(|(episode, place)| {
            let key = (
                episode.index.date,
                *place as u8,
                episode.side,
                episode.label,
            );
            (key, episode.index)
        })?;
    let last_clear = person
        .foot_looks_from(start.date)
        .filter(|at| at.date < new.index.date)
        .max();
    Some(Recurrence {
        first_open: new.index,
        last_clear,
        place,
    })
}

/// Where a new ulcer lies, seen from the wounds of the person-episode before.
fn place(new: &Episode, episodes: &[Episode], before: &PersonEpisode) -> RecurrencePlace {
    let old = || before.wounds.iter().map(|&position| &episodes[position]);
    let is_same_site = |wound: &Episode| {
        wound.label == new.label || (new.site.is_some() && wound.site == new.site)
    };
    if old().any(|wound| wound.side == new.side && is_same_site(wound)) {
        RecurrencePlace::SameSite
    } else if old().any(|wound| wound.side == new.side) {
        RecurrencePlace::SameFoot
    } else {
        RecurrencePlace::OtherFoot
    }
}

/// The day the second leg was lost. History counts as lost before.
fn both_limbs_lost(person: &Person<'_>, facts: &Facts, start: Dated) -> Option<Dated> {
    let lost = |side: Side| {
        let recorded = person
            .patient
            .prior_amputations
            .iter()
            .filter(|prior| prior.side == Some(side) && prior.level == AmputationLevel::Major)
            .map(|prior| prior.recorded)
            .min();
        let operated = facts
            .amputations
            .iter()
            .find(|amputation| {
                amputation.side == side && amputation.level == AmputationLevel::Major
            })
            .map(|amputation| amputation.at);
        [recorded, operated].into_iter().flatten().min()
    };
    let second = lost(Side::Left)?.max(lost(Side::Right)?);
    (second.date >= start.date).then_some(second)
}
