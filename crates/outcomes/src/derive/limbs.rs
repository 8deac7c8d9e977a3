//! Limbs with an ulcer in view, and how long each was kept.

use super::Person;
use super::episode::Episode;
use super::facts::Facts;
use crate::rules::Outcome;
use crate::tables::{AmputationLevel, Dated, PatientKey, Side};

/// A leg that ever had an ulcer in view: at risk from its first ulcer, not restarted by later ones and not ended by
/// healing.
#[derive(Debug, Clone, PartialEq)]
pub struct Limb {
    /// Whose.
    pub patient: PatientKey,
    /// Which.
    pub side: Side,
    /// First ulcer in view; day 0.
    pub index: Dated,
    /// Position of that ulcer in the person's list of episodes.
    pub first_episode: usize,
    /// That ulcer is prevalent, so the limb is left out of cohorts that start at the first visit.
    pub is_prevalent: bool,
    /// A minor amputation of this limb before day 0; `None` when nobody asked.
    pub had_minor_before: Option<bool>,
    /// First minor amputation from day 0 on.
    pub minor_amputation: Option<Dated>,
    /// First major amputation from day 0 on.
    pub major_amputation: Option<Dated>,
    /// Death.
    pub death: Option<Dated>,
}

impl Limb {
    /// Everything that happened to this limb, for the follow-up builder.
    pub fn outcomes(&self) -> impl Iterator<Item = (Outcome, Dated)> + use<> {
        [
            (Outcome::MajorAmputation, self.major_amputation),
            (Outcome::MinorAmputation, self.minor_amputation),
            (Outcome::Death, self.death),
        ]
        .into_iter()
        .filter_map(|(outcome, at)| at.map(|at| (outcome, at)))
    }
}

/// The limbs of one person. Limbs lost before their first ulcer in view are left out.
pub(super) fn limbs(person: &Person<'_>, episodes: &[Episode], facts: &Facts) -> Vec<Limb> {
    Side::ALL
        .iter()
        .filter_map(|&side| {
            let (first_episode, first) = episodes
                .iter()
                .enumerate()
                .filter(|(_, episode)| episode.side == side && !episode.is_post_surgical)
                .min_by_key(|(_, episode)| (episode.index, episode.label))?;
            let before = |level: AmputationLevel| {
                let recorded = person.patient.prior_amputations.iter().any(|prior| {
                    prior.side == Some(side)
                        && prior.level == level
                        && prior.recorded.date <= first.index.date
                });
                let operated = facts.amputations.iter().any(|amputation| {
                    amputation.side == side
                        && amputation.level == level
                        && amputation.at.date < first.index.date
                });
                recorded || operated
            };
            if before(AmputationLevel::Major) {
                return None;
            }
            let from = first.index.date;
            let operated = |level| {
                facts
                    .first_amputation(side, level, from)
                    .map(|amputation| amputation.at)
            };
            Some(Limb {
                patient: person.key,
                side,
                index: first.index,
                first_episode,
                is_prevalent: first.prevalent.is_some(),
                had_minor_before: if before(AmputationLevel::Minor) {
                    Some(true)
                } else {
                    let denied = person.patient.prior_amputation_denied;
                    denied.filter(|at| at.date <= from).map(|_| false)
                },
                minor_amputation: operated(AmputationLevel::Minor),
                major_amputation: operated(AmputationLevel::Major),
                death: facts.death.filter(|death| death.date >= from),
            })
        })
        .collect()
}
