//! From rows to ulcer episodes, person-episodes, remissions, limbs, vascular pathways and risk tiers.
//!
//! Everything is read as known on a day: [`History::reading`] uses only rows dated up to it, so that a figure
//! with an evidence horizon can be computed again later and come out the same.

mod episode;
mod episodes;
mod facts;
mod lesions;
mod limbs;
mod person;
mod person_episodes;
mod presentation;
mod remissions;
mod tiers;
mod vascular;

pub use episode::{Closure, Episode, EpisodeEnd, Prevalent};
pub use facts::{Amputation, Facts};
pub use lesions::{Lesion, Seen, Sighting};
pub use limbs::Limb;
pub use person::{Person, in_reading_order, people};
pub use person_episodes::PersonEpisode;
pub(crate) use person_episodes::began_on;
pub use presentation::{AreaPoint, Presentation};
pub use remissions::{Recurrence, RecurrencePlace, Remission};
pub use tiers::{TierRecord, has_open_wound};
pub use vascular::{Step, Trigger, VascularPathway};

use crate::rules::{DataHorizon, Rules};
use crate::tables::Tables;
use chrono::NaiveDate;
use std::borrow::Cow;

/// How rows are read: up to which day, by which rules, under which horizon.
#[derive(Debug, Clone, Copy)]
pub struct View<'r> {
    /// Rows dated later are not read; never after the cut-off.
    pub until: NaiveDate,
    /// The settings.
    pub rules: &'r Rules,
    /// What the export can know.
    pub horizon: &'r DataHorizon,
}

/// One person's rows and lesions, from which any reading can be made.
#[derive(Debug, Clone)]
pub struct History<'a> {
    /// The rows.
    pub person: Person<'a>,
    /// The lesions.
    pub lesions: Vec<Lesion<'a>>,
}

/// What is known of one person on a given day.
#[derive(Debug, Clone, Default)]
pub struct Reading {
    /// Death, amputations, transfers.
    pub facts: Facts,
    /// Ulcer and surgical-wound episodes, by lesion and then by date.
    pub episodes: Vec<Episode>,
    /// Person-episodes, by date.
    pub person_episodes: Vec<PersonEpisode>,
    /// Remissions, by date.
    pub remissions: Vec<Remission>,
    /// Limbs, left before right.
    pub limbs: Vec<Limb>,
}

impl History<'_> {
    /// Everything known of this person from rows dated up to the view's day.
    pub fn reading(&self, view: &View<'_>) -> Reading {
        let view = &View {
            until: view.until.min(view.horizon.cut_off),
            ..*view
        };
        let facts = facts::facts(&self.person, view.until, view.horizon, view.rules);
        let view = &facts.in_life(view);
        let episodes: Vec<Episode> = self
            .lesions
            .iter()
            .flat_map(|lesion| episodes::episodes(lesion, &facts, view))
            .collect();
        let person_episodes = person_episodes::person_episodes(&episodes, view.rules);
        let remissions =
            remissions::remissions(&self.person, &episodes, &person_episodes, &facts, view);
        let limbs = limbs::limbs(&self.person, &episodes, &facts);
        Reading {
            facts,
            episodes,
            person_episodes,
            remissions,
            limbs,
        }
    }

    /// The lesion an episode belongs to.
    pub fn lesion_of(&self, episode: &Episode) -> Option<&Lesion<'_>> {
        self.lesions
            .iter()
            .find(|lesion| lesion.side == episode.side && lesion.label == episode.label)
    }
}

/// One person in full: history, the reading at the cut-off, and what is described once.
#[derive(Debug, Clone)]
pub struct PersonOutcomes<'a> {
    /// Rows and lesions.
    pub history: History<'a>,
    /// Everything known at the cut-off.
    pub reading: Reading,
    /// Grades at presentation, one an episode.
    pub presentations: Vec<Presentation>,
    /// Areas, one list an episode.
    pub areas: Vec<Vec<AreaPoint>>,
    /// Vascular pathways, left before right.
    pub pathways: Vec<VascularPathway>,
    /// Risk tiers, by date.
    pub tiers: Vec<TierRecord>,
}

/// Derives everything. The tables must be [`in_reading_order`]; people come out in their order.
pub fn derive<'a>(
    tables: &'a Tables,
    rules: &Rules,
    horizon: &DataHorizon,
) -> Vec<PersonOutcomes<'a>> {
    let view = View {
        until: horizon.cut_off,
        rules,
        horizon,
    };
    people(tables)
        .into_iter()
        .map(|person| derive_person(person, &view))
        .collect()
}

fn derive_person<'a>(person: Person<'a>, view: &View<'_>) -> PersonOutcomes<'a> {
    let history = History {
        lesions: lesions::lesions(&person, view.rules),
        person,
    };
    let reading = history.reading(view);
    let described: Vec<(Presentation, Vec<AreaPoint>)> = reading
        .episodes
        .iter()
        .filter_map(|episode| {
            let lesion = history.lesion_of(episode)?;
            let presentation = presentation::presentation(episode, lesion, &person, view.rules);
            Some((
                presentation,
                presentation::areas(episode, lesion, view.rules),
            ))
        })
        .collect();
    let (presentations, areas) = described.into_iter().unzip();
    let view = &reading.facts.in_life(view);
    let pathways = vascular::vascular_pathways(
        &person,
        &history.lesions,
        &reading.episodes,
        &reading.facts,
        view,
    );
    let tiers = tiers::tier_history(
        &person,
        &reading.episodes,
        &reading.facts,
        view.until,
        view.rules,
    );
    PersonOutcomes {
        history,
        reading,
        presentations,
        areas,
        pathways,
        tiers,
    }
}

impl PersonOutcomes<'_> {
    /// The reading of an earlier day; the one at the cut-off where no row lies between.
    pub fn reading_at(&self, view: &View<'_>) -> Cow<'_, Reading> {
        let person = &self.history.person;
        let last_row = [
            person.visits.last().map(|row| row.date),
            person.foot_exams.last().map(|row| row.date),
            person.observations.last().map(|row| row.date),
            person.events.last().map(|row| row.date),
            person.patient.death.map(|death| death.date),
        ]
        .into_iter()
        .flatten()
        .max();
        if last_row.is_none_or(|last| last <= view.until) {
            Cow::Borrowed(&self.reading)
        } else {
            Cow::Owned(self.history.reading(view))
        }
    }
}
