//! Readings of earlier days, made once for everything that asks for them.

use super::{
    Episode, Facts, Lesion, Person, PersonOutcomes, Reading, View, read_episodes, read_knowing,
    tiers,
};
use crate::derive::TierRecord;
use crate::rules::Rules;
use chrono::NaiveDate;
use std::borrow::Cow;
use std::sync::{Arc, OnceLock};

/// What was known from the rows of some first days of a person.
#[derive(Debug, Clone)]
pub struct EarlierReading<'a> {
    /// Of the days on which rows of this person are dated, how many were read.
    pub n_days: usize,
    /// What they tell.
    pub reading: Reading<'a>,
}

/// Of what was known on an earlier day, as much as tells how a person stood.
#[derive(Debug, Clone)]
pub struct EarlierStanding<'a> {
    n_days: usize,
    person: Person<'a>,
    facts: Facts,
    episodes: Vec<Episode>,
    newest_tier: OnceLock<Option<TierRecord>>,
}

/// How a person stood on a day, as known then.
#[derive(Debug, Clone)]
pub(crate) struct Standing<'s, 'a> {
    /// The rows read.
    pub(crate) person: Person<'a>,
    /// Death, amputations, transfers.
    pub(crate) facts: Cow<'s, Facts>,
    episodes: Cow<'s, [Episode]>,
    /// Where the newest tier is kept for whoever asks again.
    newest_tier: Option<&'s OnceLock<Option<TierRecord>>>,
}

impl Standing<'_, '_> {
    /// As [`Reading::has_open_wound`].
    pub(crate) fn has_open_wound(&self, date: NaiveDate, rules: &Rules) -> Option<bool> {
        tiers::has_open_wound(&self.episodes, date, rules)
    }

    /// Risk tier at the last examination of the feet.
    pub(crate) fn newest_tier(&self, rules: &Rules) -> Option<TierRecord> {
        let find = || tiers::newest_tier(&self.person, &self.episodes, &self.facts, rules);
        match self.newest_tier {
            Some(kept) => *kept.get_or_init(find),
            None => find(),
        }
    }
}

impl<'a> PersonOutcomes<'a> {
    /// What was known on an earlier day.
    ///
    /// Between two rows nothing new is known, so this is the reading on the day of the last row: the one at the cut-off, one
    /// made before, or a new one. Only whether an open episode is called lost depends on the day itself, and that is told
    /// at the cut-off.
    pub(crate) fn reading_at(&self, view: &View<'_>) -> Cow<'_, Reading<'a>> {
        let n_days = self.days.n_by(view.until);
        match self.made(n_days) {
            Some(made) => Cow::Borrowed(made),
            None => Cow::Owned(self.read(n_days, view)),
        }
    }

    /// The same, as much as tells how the person stood.
    pub(crate) fn standing_at(&self, view: &View<'_>) -> Standing<'_, 'a> {
        let n_days = self.days.n_by(view.until);
        if let Some(made) = self.made(n_days) {
            return Standing {
                person: made.person,
                facts: Cow::Borrowed(&made.facts),
                episodes: Cow::Borrowed(&made.episodes),
                newest_tier: Some(&made.newest_tier),
            };
        }
        let found = self
            .standing
            .binary_search_by_key(&n_days, |own| own.n_days);
        if let Some(own) = found.ok().and_then(|place| self.standing.get(place)) {
            return Standing {
                person: own.person,
                facts: Cow::Borrowed(&own.facts),
                episodes: Cow::Borrowed(&own.episodes),
                newest_tier: Some(&own.newest_tier),
            };
        }
        let (person, facts, _, episodes) = self.read_episodes(n_days, view);
        Standing {
            person,
            facts: Cow::Owned(facts),
            episodes: Cow::Owned(episodes),
            newest_tier: None,
        }
    }

    /// The same person with what was known on these days read in advance: in full, and as much as tells how the person stood.
    pub(crate) fn with_readings(&self, in_full: &[View<'_>], standing: &[View<'_>]) -> Self {
        let mut ready = Self {
            reading: Arc::clone(&self.reading),
            pathways: Arc::clone(&self.pathways),
            days: Arc::clone(&self.days),
            threads: Arc::clone(&self.threads),
            person: self.person,
            earlier: Vec::new(),
            standing: Vec::new(),
        };
        let in_full = self.apart(in_full);
        ready.earlier.reserve_exact(in_full.len());
        for (n_days, view) in in_full {
            let reading = self.read(n_days, &view);
            ready.earlier.push(EarlierReading { n_days, reading });
        }
        for (n_days, view) in self.apart(standing) {
            if ready.made(n_days).is_none() {
                let (person, facts, _, episodes) = self.read_episodes(n_days, &view);
                ready.standing.push(EarlierStanding {
                    n_days,
                    person,
                    facts,
                    episodes,
                    newest_tier: OnceLock::new(),
                });
            }
        }
        ready
    }

    fn read(&self, n_days: usize, view: &View<'_>) -> Reading<'a> {
        let view = self.view_of(n_days, view);
        read_knowing(&self.person, &self.threads, &view)
    }

    fn read_episodes(
        &self,
        n_days: usize,
        view: &View<'_>,
    ) -> (Person<'a>, Facts, Vec<Lesion<'a>>, Vec<Episode>) {
        let view = self.view_of(n_days, view);
        read_episodes(&self.person, &self.threads, &view)
    }

    /// One view for each different number of days read that is not all of them, fewest first.
    fn apart<'r>(&self, views: &[View<'r>]) -> Vec<(usize, View<'r>)> {
        let mut apart: Vec<(usize, View<'r>)> = views
            .iter()
            .map(|view| (self.days.n_by(view.until), *view))
            .filter(|(n_days, _)| *n_days < self.days.rows.len())
            .collect();
        apart.sort_by_key(|(n_days, _)| *n_days);
        apart.dedup_by_key(|(n_days, _)| *n_days);
        apart
    }

    /// The reading of so many days, where it was made before.
    fn made(&self, n_days: usize) -> Option<&Reading<'a>> {
        if n_days == self.days.rows.len() {
            return Some(&self.reading);
        }
        let found = self.earlier.binary_search_by_key(&n_days, |own| own.n_days);
        let found = self.earlier.get(found.ok()?)?;
        Some(&found.reading)
    }

    /// The view on the day of the last of so many days; of none the view asked for.
    fn view_of<'r>(&self, n_days: usize, view: &View<'r>) -> View<'r> {
        let last = n_days
            .checked_sub(1)
            .and_then(|last| self.days.rows.get(last));
        View {
            until: last.copied().unwrap_or(view.until),
            ..*view
        }
    }
}

impl Person<'_> {
    /// The newest day on which a row of this person is dated.
    pub(crate) fn last_row(&self) -> Option<NaiveDate> {
        let death = self.patient.death.map(|death| death.date);
        [
            self.visits.last().map(|row| row.date),
            self.foot_exams.last().map(|row| row.date),
            self.observations.last().map(|row| row.date),
            self.events.last().map(|row| row.date),
            death,
        ]
        .into_iter()
        .flatten()
        .max()
    }
}
