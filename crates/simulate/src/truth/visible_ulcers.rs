//! Ulcers, as perfectly written visits show them.

use crate::naming::label;
use crate::record::{Event, Row, Ulcer};
use crate::words::{Kind, Origin, SITES, SeenBy, SeenState};
use serde::{Serialize, Serializer};

/// A site seen open again up to this many days after it was first seen closed had not healed.
const REOPENING_DAYS: i32 = 28;
/// A second closed visit at least this much later confirms a closure.
const CONFIRMATION_DAYS: i32 = 14;
/// Open and unseen for more than this many days before the cut-off is lost.
const LOST_DAYS: i32 = 90;
/// A death more than this many days after the last examination did not end the ulcer in view.
const DEATH_LINK_DAYS: i32 = 90;

/// How an ulcer ended in view.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ending {
    /// The limb was amputated above the ankle.
    MajorAmputation,
    /// It was removed by a minor amputation.
    MinorAmputation,
    /// It closed and was not seen open again within 28 days.
    Healed,
    /// The person died, at most 90 days after the last examination.
    Died,
    /// It has become part of another ulcer.
    Merged,
    /// The person was transferred to another service.
    TransferredOut,
    /// Open and unseen for more than 90 days before the cut-off.
    Lost,
    /// Open at the cut-off.
    Open,
}

impl Ending {
    /// Spelling in the truth file.
    pub const fn ours(self) -> &'static str {
        match self {
            Self::MajorAmputation => "major-amputation",
            Self::MinorAmputation => "minor-amputation",
            Self::Healed => "healed",
            Self::Died => "died",
            Self::Merged => "merged",
            Self::TransferredOut => "transferred-out",
            Self::Lost => "lost",
            Self::Open => "open",
        }
    }
}

impl Serialize for Ending {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.ours())
    }
}

/// One spell of an ulcer in view: from first seen open to its end. Parts of a split ulcer belong to the whole.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisibleUlcer {
    /// Pseudonymous id.
    pub patient: String,
    /// Letter in the records.
    pub label: String,
    /// Spell of this letter, counted from 1: a lesion open again after more than 28 days begins another.
    pub spell: usize,
    /// Foot.
    pub side: &'static str,
    /// Site, our spelling.
    pub site: &'static str,
    /// Origin, our spelling; post-surgical for surgical wounds.
    pub origin: &'static str,
    /// Day first seen open.
    pub index_day: i32,
    /// Onset as told, first day of the told day, week or month.
    pub onset_day: Option<i32>,
    /// Last day seen open before it closed; or before its end when it did not close.
    pub last_open_day: i32,
    /// First day seen closed, of the closure that lasted.
    pub first_closed_day: Option<i32>,
    /// A second examination 14 days or more later found it closed still.
    pub is_confirmed: bool,
    /// Closures that were cancelled by reopening within 28 days.
    pub n_cancelled_closures: usize,
    /// How it ended.
    pub end: Ending,
    /// Day of that end; the last examination for lost and open.
    pub end_day: i32,
    /// Last day its state was known; before its end where an operation or death ended it.
    pub last_known_day: i32,
    /// First area, pi/4 x length x width, square cm.
    pub index_area_cm2: Option<f64>,
}

impl VisibleUlcer {
    /// The wound of a minor amputation rather than an ulcer.
    pub fn is_surgical_wound(&self) -> bool {
        self.origin == Origin::PostSurgical.ours()
    }
}

/// The lesions of a person as threads: those with one label, and the parts split from it.
struct Thread<'a> {
    label: usize,
    /// Day and what was seen, in order.
    seen: Vec<(i32, &'a Ulcer)>,
}

/// Every spell of every ulcer of a person, in order of labels and time.
pub(crate) fn ulcers(id: &str, rows: &[Row], last_day: i32) -> Vec<VisibleUlcer> {
    threads(rows)
        .iter()
        .flat_map(|thread| spells(Shown { id, rows, last_day }, thread))
        .collect()
}

fn threads(rows: &[Row]) -> Vec<Thread<'_>> {
    let mut threads: Vec<Thread<'_>> = Vec::new();
    for row in rows {
        for ulcer in &row.ulcers {
            let is_part = ulcer.origin != Some(Origin::PostSurgical);
            let root = ulcer.parent.filter(|_| is_part).unwrap_or(ulcer.label);
            match threads.iter_mut().find(|thread| thread.label == root) {
                Some(thread) => thread.seen.push((row.day, ulcer)),
                None => threads.push(Thread {
                    label: root,
                    seen: vec![(row.day, ulcer)],
                }),
            }
        }
    }
    threads.sort_by_key(|thread| thread.label);
    threads
}

/// Days at which the state of a thread is known. Anybody can report it open; only a clinician can find it closed.
///
/// It is open while any part was last seen open, closed when all were last seen closed.
fn known_days(thread: &Thread<'_>) -> Vec<(i32, bool)> {
    let mut parts: Vec<(usize, bool)> = Vec::new();
    let mut days: Vec<(i32, bool)> = Vec::new();
    for (day, ulcer) in &thread.seen {
        let is_open = match ulcer.state {
            Some(SeenState::Open) if ulcer.merged_into.is_none() => true,
            Some(SeenState::Closed) if ulcer.seen_by == SeenBy::Clinician => false,
            _ => continue,
        };
        match parts.iter_mut().find(|part| part.0 == ulcer.label) {
            Some(part) => part.1 = is_open,
            None => parts.push((ulcer.label, is_open)),
        }
        let is_any_open = parts.iter().any(|part| part.1);
        match days.last_mut() {
            Some(last) if last.0 == *day => last.1 = is_any_open,
            _ => days.push((*day, is_any_open)),
        }
    }
    days
}

/// What the visits of one person show, up to the last day of the export.
#[derive(Clone, Copy)]
struct Shown<'r> {
    id: &'r str,
    rows: &'r [Row],
    last_day: i32,
}

fn spells(shown: Shown<'_>, thread: &Thread<'_>) -> Vec<VisibleUlcer> {
    let days = known_days(thread);
    let mut spells: Vec<VisibleUlcer> = Vec::new();
    let mut from = 0;
    while let Some(start) = (from..days.len()).find(|position| days[*position].1) {
        let closure = lasting_closure(&days, start);
        let stop = closure.map_or(days.len(), |closed| {
            (closed..days.len())
                .find(|position| days[*position].1)
                .unwrap_or(days.len())
        });
        let closure = closure.map(|closed| closed - start);
        let number = spells.len() + 1;
        spells.extend(spell(shown, thread, &days[start..stop], closure, number));
        from = stop;
    }
    spells
}

/// Position of the first closed day, after the opening at `start`, that no opening within 28 days cancels.
fn lasting_closure(days: &[(i32, bool)], start: usize) -> Option<usize> {
    let is_first_closed = |position: &usize| !days[*position].1 && days[*position - 1].1;
    (start + 1..days.len())
        .filter(is_first_closed)
        .find(|position| {
            let closed_day = days[*position].0;
            let reopened = days[*position..].iter().find(|day| day.1);
            reopened.is_none_or(|(day, _)| day - closed_day > REOPENING_DAYS)
        })
}

/// One spell of a thread: the days on which its state is known, and which of them is the lasting closure.
fn spell(
    shown: Shown<'_>,
    thread: &Thread<'_>,
    days: &[(i32, bool)],
    closure: Option<usize>,
    number: usize,
) -> Option<VisibleUlcer> {
    let index_day = days.first()?.0;
    let (_, ulcer) = thread.seen.iter().find(|(day, _)| *day == index_day)?;
    let closed_day = closure.map(|position| days[position].0);
    let last_known_day = days.last()?.0;
    let (end, end_day) = ending(shown, thread, index_day, closed_day, last_known_day);
    let until = closed_day.map_or(end_day, |closed| closed.min(end_day));
    let last_open_day = days.iter().rfind(|day| day.1 && day.0 <= until)?.0;
    let is_healed = end == Ending::Healed;
    let is_confirmed = is_healed
        && days
            .iter()
            .any(|day| closed_day.is_some_and(|closed| day.0 - closed >= CONFIRMATION_DAYS));
    let n_closures = days
        .windows(2)
        .filter(|pair| pair[0].1 && !pair[1].1)
        .count();
    Some(VisibleUlcer {
        patient: shown.id.to_owned(),
        label: label(thread.label),
        spell: number,
        side: ulcer.side.ours(),
        site: SITES[ulcer.site].ours,
        origin: ulcer.origin.map_or("", |origin| origin.ours()),
        index_day,
        onset_day: ulcer.onset_day,
        last_open_day,
        first_closed_day: closed_day.filter(|_| is_healed),
        is_confirmed,
        n_cancelled_closures: n_closures.saturating_sub(usize::from(closure.is_some())),
        end,
        end_day,
        last_known_day: if is_healed {
            last_known_day
        } else {
            last_known_day.min(end_day)
        },
        index_area_cm2: area_cm2(ulcer),
    })
}

/// The first of what can end an ulcer; on one day major amputation, minor amputation, healed, death, in this order.
fn ending(
    shown: Shown<'_>,
    thread: &Thread<'_>,
    index_day: i32,
    closed_day: Option<i32>,
    last_known_day: i32,
) -> (Ending, i32) {
    let events = || shown.rows.iter().flat_map(|row| &row.events);
    let side = thread.seen.first().map(|(_, ulcer)| ulcer.side);
    let labels: Vec<usize> = thread.seen.iter().map(|(_, ulcer)| ulcer.label).collect();
    let ended_by = |event: &Event| match event.kind {
        Kind::MajorAmputation => (event.side == side).then_some(Ending::MajorAmputation),
        Kind::MinorAmputation => event
            .label
            .is_some_and(|label| labels.contains(&label))
            .then_some(Ending::MinorAmputation),
        Kind::Death => (event.day - last_known_day <= DEATH_LINK_DAYS).then_some(Ending::Died),
        _ => None,
    };
    let from_events = events()
        .filter(|event| event.day >= index_day)
        .filter_map(|event| Some((event.day, ended_by(event)?)));
    let merged = thread
        .seen
        .iter()
        .find(|(day, ulcer)| {
            *day >= index_day && ulcer.label == thread.label && ulcer.merged_into.is_some()
        })
        .map(|(day, _)| (*day, Ending::Merged));
    let healed = closed_day.map(|day| (day, Ending::Healed));
    // A transfer ends the view of this practice only: what it was told afterwards still counts.
    let transfer_day = events()
        .find(|event| event.kind == Kind::TransferOut && event.day >= index_day)
        .map(|event| event.day);
    match from_events.chain(merged).chain(healed).min() {
        Some((day, ending)) => (ending, day),
        None => match transfer_day {
            Some(day) => (Ending::TransferredOut, day),
            None if shown.last_day - last_known_day > LOST_DAYS => (Ending::Lost, last_known_day),
            None => (Ending::Open, last_known_day),
        },
    }
}

fn area_cm2(ulcer: &Ulcer) -> Option<f64> {
    let area = std::f64::consts::FRAC_PI_4 * ulcer.length_mm? * ulcer.width_mm? / 100.0;
    Some((area * 1000.0).round() / 1000.0)
}
