//! What is known of one ulcer on a day: its index visit, its closure, its end.

use super::KnownDays;
use crate::coded;
use crate::rules::{Outcome, Rules, days_between};
use crate::tables::{Dated, FootSite, NameId, Onset, Origin, PatientKey, Side};
use chrono::NaiveDate;
use serde::Serialize;

coded! {
    /// How an ulcer episode ended.
    pub enum EpisodeEnd {
        Healed = "healed",
        MinorAmputation = "excised-by-minor-amputation",
        MajorAmputation = "major-amputation",
        Died = "died",
        Transferred = "transferred-out",
        Lost = "lost-to-follow-up",
        Open = "open-at-cut-off",
    }
}

impl EpisodeEnd {
    /// Whether the lesion was removed, which leaves a wound.
    pub const fn is_amputation(self) -> bool {
        matches!(self, Self::MinorAmputation | Self::MajorAmputation)
    }
}

coded! {
    /// Why an episode is left out of cohorts that start at the first visit here.
    pub enum Prevalent {
        OpenAtDataStart = "first seen within the window after data start",
        TransferredIn = "transferred in",
    }
}

/// A closure that stands: no reopening of the site within the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Closure {
    /// Last visit where it was seen open: healing lies after this day.
    pub last_open: Dated,
    /// First visit where it was seen closed: healing lies on or before this day.
    pub first_closed: Dated,
    /// The visit that confirmed it, at least the confirmation gap later.
    pub confirmed: Option<Dated>,
}

/// One ulcer from the visit at which it was first seen open to its end, as known on a given day.
#[derive(Debug, Clone, PartialEq)]
pub struct Episode {
    /// Whose; also the cluster number.
    pub patient: PatientKey,
    /// Position of its lesion in the reading.
    pub lesion: usize,
    /// Which foot.
    pub side: Side,
    /// The export's label.
    pub label: NameId,
    /// Site first recorded.
    pub site: Option<FootSite>,
    /// 1 for the first episode of this lesion, 2 for the next after it healed, and so on.
    pub ordinal: u32,
    /// A surgical wound, not an ulcer; counted apart.
    pub is_post_surgical: bool,
    /// The lesion whose removal left this surgical wound.
    pub parent: Option<NameId>,
    /// How it came here.
    pub origin: Option<Origin>,
    /// First visit where it was seen open; day 0.
    pub index: Dated,
    /// Earliest onset told.
    pub onset: Option<Onset>,
    /// Left out of first-visit cohorts, and why.
    pub prevalent: Option<Prevalent>,
    /// Last visit where it was seen open.
    pub last_open: Dated,
    /// Last visit where its state was known.
    pub last_known: Dated,
    /// Every day on which its state was known, ascending.
    pub known_days: KnownDays,
    /// How many closures a reopening cancelled.
    pub n_reopened: u32,
    /// The closure that stands.
    pub closure: Option<Closure>,
    /// Amputation of that lesion.
    pub minor_amputation: Option<Dated>,
    /// Amputation of that limb.
    pub major_amputation: Option<Dated>,
    /// Death, unless it came too long after the last known state.
    pub death: Option<Dated>,
    /// Care transferred to another service.
    pub transferred_out: Option<Dated>,
    /// How it ended.
    pub end: EpisodeEnd,
    /// When, and the row that tells.
    pub end_at: Dated,
}

impl Episode {
    /// Everything that happened to this ulcer, for the follow-up builder.
    pub fn outcomes(&self) -> impl Iterator<Item = (Outcome, Dated)> + use<> {
        let confirmed = self.closure.filter(|closure| closure.confirmed.is_some());
        [
            (Outcome::MajorAmputation, self.major_amputation),
            (Outcome::MinorAmputation, self.minor_amputation),
            (
                Outcome::Healed,
                self.closure.map(|closure| closure.first_closed),
            ),
            (
                Outcome::HealedConfirmed,
                confirmed.map(|closure| closure.first_closed),
            ),
            (Outcome::Death, self.death),
        ]
        .into_iter()
        .filter_map(|(outcome, at)| at.map(|at| (outcome, at)))
    }

    /// Whole days from the first visit to a date.
    pub fn day_of(&self, at: Dated) -> i64 {
        days_between(self.index.date, at.date)
    }

    /// Whether this wound, closed or removed on `gone`, counts as open on a day, as far as was known then: first seen
    /// by it, not gone before it, and not unseen for longer than makes it lost. On the day it is first seen closed it
    /// still counts as open. Whoever operated on it saw it that day.
    pub(crate) fn is_open_on(&self, date: NaiveDate, gone: Option<Dated>, rules: &Rules) -> bool {
        let seen = self.known_days.iter().rev().find(|known| **known <= date);
        let operated = (self.end.is_amputation())
            .then_some(self.end_at.date)
            .filter(|day| *day <= date);
        let known = seen.copied().max(operated);
        let is_followed =
            known.is_some_and(|known| days_between(known, date) <= rules.lost_after_days);
        is_followed && gone.is_none_or(|gone| gone.date >= date)
    }

    /// The day this lesion was known to be gone: closed for good, or removed. A removed lesion leaves a wound.
    pub fn resolved(&self) -> Option<Dated> {
        let is_gone = self.end == EpisodeEnd::Healed || self.end.is_amputation();
        is_gone.then_some(self.end_at)
    }
}
