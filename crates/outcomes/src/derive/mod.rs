//! From rows to ulcer episodes, person-episodes, remissions, limbs, vascular pathways and risk tiers.
//!
//! Everything is read as known on a day: [`read`] uses only rows dated up to it, so that a figure
//! with an evidence horizon can be computed again later and come out the same.

mod days;
mod episode;
mod episodes;
mod facts;
mod lesions;
mod limbs;
mod memory;
mod person;
mod person_episodes;
mod presentation;
mod remissions;
mod threads;
mod tiers;
mod vascular;
mod wound_course;

pub use crate::grade::Trigger;
pub use episode::{Closure, Episode, EpisodeEnd, Prevalent};
pub(crate) use facts::removed_untold;
pub use facts::{Amputation, Facts};
pub(crate) use lesions::seen;
pub use lesions::{DayRows, KnownDays, Lesion, Seen, Sighting, Sightings};
pub use limbs::Limb;
pub(crate) use memory::Standing;
pub use memory::{EarlierReading, EarlierStanding};
pub(crate) use person::order_of_observations;
pub use person::{Person, in_reading_order, people};
pub use person_episodes::PersonEpisode;
pub(crate) use person_episodes::began_on;
pub use presentation::{AreaPoint, Presentation};
pub use remissions::{Recurrence, RecurrencePlace, Remission};
pub use tiers::TierRecord;
pub use vascular::{Step, VascularPathway};
pub use wound_course::WoundCourse;

use crate::blocks::take_in_blocks;
use crate::rules::{DataHorizon, Rules};
use crate::tables::{Dated, Tables};
use chrono::NaiveDate;
use days::Days;
use std::sync::{Arc, OnceLock};
use threads::Threads;

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

/// What is known of one person on a given day, from rows dated up to it and from nothing else.
#[derive(Debug, Clone)]
pub struct Reading<'a> {
    /// The rows read.
    pub person: Person<'a>,
    /// The lesions those rows tell of.
    pub lesions: Vec<Lesion<'a>>,
    /// Death, amputations, transfers.
    pub facts: Facts,
    /// Ulcer and surgical-wound episodes, by lesion and then by date.
    pub episodes: Vec<Episode>,
    /// When each of them was known to be closed, in the same order.
    pub closures: Vec<Option<Dated>>,
    /// Person-episodes, by date.
    pub person_episodes: Vec<PersonEpisode>,
    /// Remissions, by date.
    pub remissions: Vec<Remission>,
    /// Grades at presentation, one an episode, once somebody has asked.
    presentations: OnceLock<Box<[OnceLock<Presentation>]>>,
    /// Limbs, once somebody has asked.
    limbs: OnceLock<Vec<Limb>>,
    /// Vascular pathways, once somebody has asked.
    pathways: OnceLock<Vec<VascularPathway>>,
    /// Risk tier at the last examination, once somebody has asked.
    newest_tier: OnceLock<Option<TierRecord>>,
}

/// The rows known on the view's day and what they tell up to the episodes.
fn read_episodes<'a>(
    person: &Person<'a>,
    threads: &Threads<'a>,
    view: &View<'_>,
) -> (Person<'a>, Facts, Vec<Lesion<'a>>, Vec<Episode>) {
    let until = view.until.min(view.horizon.cut_off);
    let view = &View { until, ..*view };
    let facts = facts::facts(person, until, view.horizon, view.rules);
    let view = &facts.in_life(view);
    let person = person.up_to(view.until);
    let lesions = threads.lesions(view.until, view.rules);
    let mut episodes = Vec::with_capacity(lesions.len());
    for (position, lesion) in lesions.iter().enumerate() {
        episodes::add_episodes(position, lesion, &facts, view, &mut episodes);
    }
    (person, facts, lesions, episodes)
}

/// Reads one person as known on the view's day. Rows dated after a death are left out: they are a finding.
pub fn read<'a>(person: &Person<'a>, view: &View<'_>) -> Reading<'a> {
    read_knowing(person, &Threads::of(person), view)
}

/// The same where the person's rows have been put together before.
fn read_knowing<'a>(person: &Person<'a>, threads: &Threads<'a>, view: &View<'_>) -> Reading<'a> {
    let (person, facts, lesions, episodes) = read_episodes(person, threads, view);
    let closures = person_episodes::closures(&episodes, &person, view.rules);
    let person_episodes = person_episodes::person_episodes(&episodes, &closures, view.rules);
    let remissions = remissions::remissions(
        &person,
        &episodes,
        &closures,
        &person_episodes,
        &facts,
        view.rules,
    );
    Reading {
        person,
        lesions,
        facts,
        episodes,
        closures,
        person_episodes,
        remissions,
        presentations: OnceLock::new(),
        limbs: OnceLock::new(),
        pathways: OnceLock::new(),
        newest_tier: OnceLock::new(),
    }
}

impl Reading<'_> {
    /// Gives back the room that its lists were given and do not use: one reading of everybody is kept.
    fn shrink(&mut self) {
        self.lesions.shrink_to_fit();
        self.episodes.shrink_to_fit();
        self.closures.shrink_to_fit();
        self.person_episodes.shrink_to_fit();
        for span in &mut self.person_episodes {
            span.wounds.shrink_to_fit();
        }
        self.remissions.shrink_to_fit();
        self.facts.amputations.shrink_to_fit();
    }

    fn lesion_of(&self, episode: &Episode) -> &Lesion<'_> {
        &self.lesions[episode.lesion]
    }

    /// Grades of an episode of this reading at its first visit.
    ///
    /// They rest on the rows of this reading and the rules alone, and so are worked out once.
    pub fn presentation(&self, episode: &Episode, rules: &Rules) -> Presentation {
        let find =
            || presentation::presentation(episode, self.lesion_of(episode), &self.person, rules);
        let none = || self.episodes.iter().map(|_| OnceLock::new()).collect();
        let is_it = |own: &Episode| (own.lesion, own.ordinal) == (episode.lesion, episode.ordinal);
        let place = self.episodes.iter().position(is_it);
        let kept = place.and_then(|place| self.presentations.get_or_init(none).get(place));
        kept.map_or_else(find, |kept| *kept.get_or_init(find))
    }

    /// Areas of an episode of this reading, by date.
    pub fn areas(&self, episode: &Episode, rules: &Rules) -> Vec<AreaPoint> {
        presentation::areas(episode, self.lesion_of(episode), rules)
    }

    /// Limbs, left before right.
    pub fn limbs(&self) -> &[Limb] {
        self.limbs
            .get_or_init(|| limbs::limbs(&self.person, &self.episodes, &self.facts))
    }

    /// The vascular pathway of each limb from its first trigger.
    ///
    /// They rest on the rows of this reading and the rules alone, and so are worked out once.
    pub fn pathways(&self, view: &View<'_>) -> &[VascularPathway] {
        self.pathways
            .get_or_init(|| vascular::pathways(self, &self.facts.in_life(view)))
    }

    /// The vascular pathway of each limb with an open ulcer, from the first trigger since its present wounds began.
    pub(crate) fn present_pathways(&self, view: &View<'_>) -> Vec<VascularPathway> {
        vascular::present_pathways(self, &self.facts.in_life(view))
    }

    /// Risk tiers, one a day on which the feet were examined, by date.
    pub fn tiers(&self, rules: &Rules) -> Vec<TierRecord> {
        tiers::tier_history(&self.person, &self.episodes, &self.facts, rules)
    }

    /// Risk tier at the last examination of the feet.
    pub(crate) fn newest_tier(&self, rules: &Rules) -> Option<TierRecord> {
        *self
            .newest_tier
            .get_or_init(|| tiers::newest_tier(&self.person, &self.episodes, &self.facts, rules))
    }

    /// Risk tier on a day, from what had been recorded by then and was still known; `None` when no foot had been examined
    /// in the months an item stays known.
    pub fn tier_on(&self, date: NaiveDate, rules: &Rules) -> Option<TierRecord> {
        tiers::tier_on(&self.person, &self.episodes, &self.facts, date, rules)
    }

    /// Whether any wound is open at the end of a day; `None` when one was lost from sight.
    pub(crate) fn has_open_wound(&self, date: NaiveDate, rules: &Rules) -> Option<bool> {
        tiers::has_open_wound(&self.episodes, date, rules)
    }
}

/// One person in full: every row, and everything known at the cut-off. Grades, areas and tiers are worked out by
/// the reading when somebody asks, so that nothing is held for everybody that only some are asked for.
#[derive(Debug, Clone)]
pub struct PersonOutcomes<'a> {
    /// Every row.
    pub person: Person<'a>,
    /// Everything known at the cut-off.
    pub reading: Arc<Reading<'a>>,
    /// Vascular pathways, left before right.
    pub pathways: Arc<[VascularPathway]>,
    /// Readings of earlier days made in advance, by day; `reading_at` makes any other.
    pub earlier: Vec<EarlierReading<'a>>,
    /// The same of days that ask for less.
    pub standing: Vec<EarlierStanding<'a>>,
    /// Days on which something may have begun.
    days: Arc<Days>,
    /// Every row by label.
    threads: Arc<Threads<'a>>,
}

/// Derives everything. The tables must be [`in_reading_order`]; people come out in their order.
pub fn derive<'a>(
    tables: &'a Tables,
    rules: &Rules,
    horizon: &DataHorizon,
) -> Vec<PersonOutcomes<'a>> {
    derive_these(&people(tables), rules, horizon)
}

/// Derives everything of some people, in their order.
pub(crate) fn derive_these<'a>(
    people: &[Person<'a>],
    rules: &Rules,
    horizon: &DataHorizon,
) -> Vec<PersonOutcomes<'a>> {
    let view = View {
        until: horizon.cut_off,
        rules,
        horizon,
    };
    let derive_block = |block: &[Person<'a>]| -> Vec<PersonOutcomes<'a>> {
        block
            .iter()
            .map(|person| derive_person(*person, &view))
            .collect()
    };
    let mut derived = Vec::with_capacity(people.len());
    take_in_blocks(people, derive_block, |block| derived.extend(block));
    derived
}

fn derive_person<'a>(person: Person<'a>, view: &View<'_>) -> PersonOutcomes<'a> {
    let threads = Threads::of(&person);
    let mut reading = read_knowing(&person, &threads, view);
    reading.shrink();
    PersonOutcomes {
        pathways: vascular::pathways(&reading, &reading.facts.in_life(view)).into(),
        days: Arc::new(Days::of(&person, &reading.episodes)),
        threads: Arc::new(threads),
        person,
        reading: Arc::new(reading),
        earlier: Vec::new(),
        standing: Vec::new(),
    }
}

impl<'a> PersonOutcomes<'a> {
    /// Every day on which an ulcer of this person may have begun, as known on any day: it was seen open, and under that
    /// label had not been before, or something else had been seen or an amputation done since. Ascending.
    pub(crate) fn opening_days(&self) -> impl Iterator<Item = NaiveDate> + '_ {
        self.days.opening.iter().copied()
    }

    /// The newest day up to another on which a row of this person is dated.
    pub(crate) fn last_row_by(&self, until: NaiveDate) -> Option<NaiveDate> {
        let n_days = self.days.n_by(until);
        self.days.rows.get(n_days.checked_sub(1)?).copied()
    }

    /// Every day on which the last wound of this person may have been known to be closed: a label first seen closed or
    /// excised, an operation, the next look at a foot after either; with splits or merges every closed row. Ascending.
    pub(crate) fn closing_days(&self) -> impl Iterator<Item = NaiveDate> + '_ {
        self.days.closing.iter().copied()
    }

    /// Every day on which an amputation of this person is recorded, or an ulcer found removed. Ascending.
    pub(crate) fn operation_days(&self) -> impl Iterator<Item = NaiveDate> + '_ {
        self.days.operations.iter().copied()
    }
}
