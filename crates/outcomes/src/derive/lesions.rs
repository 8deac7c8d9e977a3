//! Lesions: rows that tell of one wound, whatever labels it went under.

use super::threads::Part;
use crate::tables::{
    Dated, FootSite, NameId, PatientKey, SeenBy, Side, UlcerObservation, UlcerState,
};
use chrono::NaiveDate;
use std::ops::Deref;
use std::sync::Arc;

/// One lesion of one person over the whole export: its own rows, those of the parts it split into, of the
/// lesions that merged into it, and of labels that took up the same site again within the reopening window.
#[derive(Debug, Clone)]
pub struct Lesion<'a> {
    /// Whose.
    pub patient: PatientKey,
    /// Which foot.
    pub side: Side,
    /// The label it is known by: that of its root.
    pub label: NameId,
    /// The site first recorded.
    pub site: Option<FootSite>,
    /// A surgical wound, not an ulcer.
    pub is_post_surgical: bool,
    /// The lesion whose removal left this surgical wound, where the export says so.
    pub parent: Option<NameId>,
    /// What was seen of it, a row a day, ascending.
    pub sightings: Sightings<'a>,
}

/// The first days of what was seen of a lesion. Readings of earlier days share one list with the reading at the cut-off.
#[derive(Debug, Clone)]
pub struct Sightings<'a> {
    all: Arc<[Sighting<'a>]>,
    n: usize,
    /// The days among all of them that tell its state.
    told: Arc<[NaiveDate]>,
}

impl<'a> Sightings<'a> {
    /// Those up to a day.
    pub(super) fn up_to(&self, until: NaiveDate) -> Self {
        Self {
            all: Arc::clone(&self.all),
            n: self.partition_point(|sighting| sighting.at.date <= until),
            told: Arc::clone(&self.told),
        }
    }

    /// The days from one to another, both included, that tell the state.
    pub(super) fn told_within(&self, from: NaiveDate, to: NaiveDate) -> KnownDays {
        KnownDays {
            from: self.told.partition_point(|day| *day < from),
            to: self.told.partition_point(|day| *day <= to),
            all: Arc::clone(&self.told),
        }
    }
}

impl<'a> From<Vec<Sighting<'a>>> for Sightings<'a> {
    fn from(all: Vec<Sighting<'a>>) -> Self {
        let told = all.iter().filter(|seen| seen.state != Seen::NotTold);
        Self {
            told: told.map(|seen| seen.at.date).collect(),
            n: all.len(),
            all: all.into(),
        }
    }
}

impl<'a> Deref for Sightings<'a> {
    type Target = [Sighting<'a>];

    fn deref(&self) -> &Self::Target {
        self.all.get(..self.n).unwrap_or(&self.all)
    }
}

/// A stretch of the days on which the state of a lesion was known, ascending; readings share the list it is a stretch of.
#[derive(Debug, Clone)]
pub struct KnownDays {
    all: Arc<[NaiveDate]>,
    from: usize,
    to: usize,
}

impl Deref for KnownDays {
    type Target = [NaiveDate];

    fn deref(&self) -> &Self::Target {
        self.all.get(self.from..self.to).unwrap_or_default()
    }
}

impl FromIterator<NaiveDate> for KnownDays {
    fn from_iter<I: IntoIterator<Item = NaiveDate>>(days: I) -> Self {
        let all: Arc<[NaiveDate]> = days.into_iter().collect();
        Self {
            from: 0,
            to: all.len(),
            all,
        }
    }
}

impl PartialEq for KnownDays {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

/// What one day's rows tell about one lesion.
#[derive(Debug, Clone)]
pub struct Sighting<'a> {
    /// Day and first row.
    pub at: Dated,
    /// What the rows tell of its state.
    pub state: Seen,
    /// The day's rows of all its parts.
    pub rows: DayRows<'a>,
}

/// The rows of one day, nearly always one.
#[derive(Debug, Clone)]
pub enum DayRows<'a> {
    /// One row.
    One(&'a UlcerObservation),
    /// Several.
    Several(Box<[&'a UlcerObservation]>),
}

impl<'a> Deref for DayRows<'a> {
    type Target = [&'a UlcerObservation];

    fn deref(&self) -> &Self::Target {
        match self {
            Self::One(row) => std::slice::from_ref(row),
            Self::Several(rows) => rows,
        }
    }
}

impl<'a> FromIterator<&'a UlcerObservation> for DayRows<'a> {
    fn from_iter<I: IntoIterator<Item = &'a UlcerObservation>>(rows: I) -> Self {
        let mut rows = rows.into_iter();
        match (rows.next(), rows.next()) {
            (Some(only), None) => Self::One(only),
            (first, second) => Self::Several(first.into_iter().chain(second).chain(rows).collect()),
        }
    }
}

/// State of a lesion as far as one day's rows tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// Open, seen by anybody.
    Open,
    /// Every part closed, seen by a clinician.
    Closed,
    /// Removed by surgery.
    Excised,
    /// The rows do not tell: no state, a pre-ulcerative state, a closure not seen by a clinician, or a
    /// closed part beside another that was open when last seen.
    NotTold,
}

/// Days on which a label is seen open and was not open when last seen.
pub(super) fn openings(rows: &[&UlcerObservation]) -> Vec<NaiveDate> {
    let mut is_open = false;
    let mut days = Vec::new();
    for row in rows {
        match row.state {
            Some(UlcerState::Open) if !is_open => {
                is_open = true;
                days.push(row.date);
            }
            Some(UlcerState::Closed | UlcerState::Excised) => is_open = false,
            _ => {}
        }
    }
    days
}

/// First day of the closed spell that was current on `day`, if the rows were closed then.
pub(super) fn closed_before(rows: &[&UlcerObservation], day: NaiveDate) -> Option<NaiveDate> {
    let mut closed = None;
    for row in rows.iter().take_while(|row| row.date <= day) {
        match row.state {
            Some(UlcerState::Closed) if row.seen_by == SeenBy::Clinician => {
                closed = closed.or(Some(row.date));
            }
            Some(UlcerState::Open) => closed = None,
            _ => {}
        }
    }
    closed
}

/// Days of all parts together. A part that others have replaced (a parent not seen after its parts
/// appear, a lesion from the day it merged) no longer keeps the lesion open.
pub(super) fn sightings<'a>(parts: &[&Part<'_, 'a>]) -> Vec<Sighting<'a>> {
    let mut rows: Vec<(usize, &'a UlcerObservation)> = parts
        .iter()
        .enumerate()
        .flat_map(|(part, thread)| thread.rows.iter().map(move |row| (part, *row)))
        .collect();
    // Stable: rows of one part and day stay in reading order.
    rows.sort_by_key(|(part, row)| (row.date, *part));
    let mut last = vec![Seen::NotTold; parts.len()];
    let mut sightings: Vec<Sighting<'a>> = Vec::new();
    for day in rows.chunk_by(|left, right| left.1.date == right.1.date) {
        let date = day[0].1.date;
        let mut today = vec![Seen::NotTold; parts.len()];
        for (part, row) in day {
            today[*part] = stronger(today[*part], seen(row));
        }
        for part in 0..parts.len() {
            if today[part] != Seen::NotTold {
                last[part] = today[part];
            }
            if is_replaced(parts, part, date) {
                last[part] = Seen::NotTold;
                today[part] = Seen::NotTold;
            }
        }
        let state = if today.contains(&Seen::Open) {
            Seen::Open
        } else if today.iter().all(|state| *state == Seen::NotTold) || last.contains(&Seen::Open) {
            Seen::NotTold
        } else if last.contains(&Seen::Excised) {
            // Of a split lesion with an excised part the rest did not heal without amputation.
            Seen::Excised
        } else {
            Seen::Closed
        };
        sightings.push(Sighting {
            at: Dated::new(date, day[0].1.source),
            state,
            rows: day.iter().map(|(_, row)| *row).collect(),
        });
    }
    sightings
}

/// The same of one part that nothing replaces: each day tells its own state.
pub(super) fn sightings_of_one<'a>(rows: &[&'a UlcerObservation]) -> Vec<Sighting<'a>> {
    let days = rows.chunk_by(|left, right| left.date == right.date);
    days.map(|day| Sighting {
        at: Dated::new(day[0].date, day[0].source),
        state: day
            .iter()
            .map(|row| seen(row))
            .fold(Seen::NotTold, stronger),
        rows: day.iter().copied().collect(),
    })
    .collect()
}

/// What one row tells of the state; only a clinician closes.
pub(crate) fn seen(row: &UlcerObservation) -> Seen {
    match row.state {
        Some(UlcerState::Open) => Seen::Open,
        Some(UlcerState::Closed) if row.seen_by == SeenBy::Clinician => Seen::Closed,
        Some(UlcerState::Excised) => Seen::Excised,
        Some(UlcerState::Closed | UlcerState::PreUlcerative) | None => Seen::NotTold,
    }
}

/// Of two rows of one day the one that keeps the lesion open wins.
fn stronger(left: Seen, right: Seen) -> Seen {
    let rank = |state: Seen| match state {
        Seen::Open => 3,
        Seen::Excised => 2,
        Seen::Closed => 1,
        Seen::NotTold => 0,
    };
    if rank(right) > rank(left) {
        right
    } else {
        left
    }
}

/// Whether others stand for a part on a day: a lesion that has merged and was not seen open by itself since, a parent
/// not seen since its parts appeared.
fn is_replaced(parts: &[&Part<'_, '_>], part: usize, date: NaiveDate) -> bool {
    let own = parts[part];
    let seen = own.rows.iter().filter(|row| row.date <= date);
    let merged = seen.clone().filter(|row| {
        row.merged_into
            .is_some_and(|survivor| parts.iter().any(|other| other.label() == survivor))
    });
    if let Some(merged) = merged.map(|row| row.date).max() {
        return !seen
            .clone()
            .any(|row| row.date > merged && row.state == Some(UlcerState::Open));
    }
    let children = parts
        .iter()
        .filter(|other| other.rows.iter().any(|row| row.parent == Some(own.label())));
    let first_child = children
        .filter_map(|other| other.rows.first())
        .map(|row| row.date)
        .min();
    first_child.is_some_and(|first| first <= date && !seen.clone().any(|row| row.date >= first))
}
