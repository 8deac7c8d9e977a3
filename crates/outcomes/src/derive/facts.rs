//! What is known of a person as a whole: death, amputations, transfers.

use super::{Person, View};
use crate::rules::{DataHorizon, Rules, days_between};
use crate::tables::{
    AmputationHeight, AmputationLevel, Dated, Event, EventKind, NameId, Region, Side,
    UlcerObservation, UlcerState,
};
use chrono::NaiveDate;

/// An amputation that counts: repeated reports, planned stages and closures have been folded into it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Amputation {
    /// Which leg.
    pub side: Side,
    /// Minor or major.
    pub level: AmputationLevel,
    /// Height, where recorded.
    pub height: Option<AmputationHeight>,
    /// Day and row.
    pub at: Dated,
    /// Lesions it, or a later stage of it, is said to have removed, each with the day and row of that stage.
    pub ulcer_labels: Vec<(NameId, Dated)>,
    /// No event tells of it: the lesion was seen, and later found removed. Its day is the one on which it was found so.
    pub is_told_by_state: bool,
}

/// What is known of a person as a whole on a given day.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Facts {
    /// Death.
    pub death: Option<Dated>,
    /// Amputations that count, by date.
    pub amputations: Vec<Amputation>,
    /// Transfers of care to another service, by date.
    pub transfers_out: Vec<Dated>,
}

impl Facts {
    /// The same view, ended by death: rows dated after it are a finding and tell nothing.
    pub(super) fn in_life<'r>(&self, view: &View<'r>) -> View<'r> {
        View {
            until: self
                .death
                .map_or(view.until, |death| death.date.min(view.until)),
            ..*view
        }
    }

    /// First amputation of a level on one leg on or after a day.
    pub(crate) fn first_amputation(
        &self,
        side: Side,
        level: AmputationLevel,
        from: NaiveDate,
    ) -> Option<&Amputation> {
        self.amputations.iter().find(|amputation| {
            amputation.side == side && amputation.level == level && amputation.at.date >= from
        })
    }
}

/// Facts from rows dated up to `until`. Deaths and procedures later than they are known to are left out, so that
/// nobody's follow-up ends in an event that others could not have had.
pub(super) fn facts(
    person: &Person<'_>,
    until: NaiveDate,
    horizon: &DataHorizon,
    rules: &Rules,
) -> Facts {
    let deaths_to = until.min(horizon.deaths_seen_to());
    let reported = person
        .events
        .iter()
        .filter(|event| event.kind == EventKind::Death)
        .map(|event| Dated::new(event.date, event.source));
    let death = person
        .patient
        .death
        .into_iter()
        .chain(reported)
        .filter(|death| death.date <= deaths_to)
        .min();
    let transfers_out = person
        .events
        .iter()
        .filter(|event| event.kind == EventKind::TransferOut && event.date <= until)
        .map(|event| Dated::new(event.date, event.source))
        .collect();
    let procedures_to = until.min(horizon.procedures_known_to).min(horizon.cut_off);
    Facts {
        death,
        amputations: amputations(person, procedures_to, rules),
        transfers_out,
    }
}

/// One telling of an amputation, by an event or by the state of a lesion.
struct Told {
    level: AmputationLevel,
    side: Side,
    height: Option<AmputationHeight>,
    at: Dated,
    label: Option<NameId>,
    is_staged: bool,
    /// For a lesion found removed: the day it was first seen.
    seen_from: Option<NaiveDate>,
}

fn told_by_event(event: &Event) -> Option<Told> {
    let level = match event.kind {
        EventKind::MinorAmputation => AmputationLevel::Minor,
        EventKind::MajorAmputation => AmputationLevel::Major,
        _ => return None,
    };
    Some(Told {
        level,
        side: event.side?,
        height: event.height,
        at: Dated::new(event.date, event.source),
        label: event.ulcer_label,
        is_staged: event.is_staged,
        seen_from: None,
    })
}

/// Rows of one person that find a lesion removed which was there before, without any amputation of that leg in between.
pub(crate) fn removed_untold<'a>(
    rows: &'a [UlcerObservation],
    events: &[Event],
) -> Vec<&'a UlcerObservation> {
    if !rows.iter().any(is_removed) {
        return Vec::new();
    }
    let told: Vec<Told> = events.iter().filter_map(told_by_event).collect();
    let found = told_by_states(rows, &told);
    // one record may tell of several lesions
    let is_found = |row: &&UlcerObservation| {
        let mut found = found.iter();
        is_removed(row)
            && found.any(|told| {
                (told.at.source, told.side, told.label) == (row.source, row.side, Some(row.label))
            })
    };
    rows.iter().filter(is_found).collect()
}

fn is_removed(row: &UlcerObservation) -> bool {
    row.state == Some(UlcerState::Excised)
}

/// Lesions that were seen, and later found removed, without an amputation of that leg in between.
fn told_by_states(rows: &[UlcerObservation], told: &[Told]) -> Vec<Told> {
    let found = rows.iter().filter(|row| is_removed(row));
    found
        .filter_map(|removed| {
            let mut own = rows.iter().filter(|row| {
                (row.side, row.label) == (removed.side, removed.label) && row.date <= removed.date
            });
            let is_open_on = |date: NaiveDate| {
                own.clone()
                    .any(|row| row.date == date && row.state == Some(UlcerState::Open))
            };
            let is_above_foot = own
                .clone()
                .find_map(|row| row.site)
                .is_some_and(|site| site.region == Region::AboveFoot);
            let before = own
                .clone()
                .rev()
                .find(|row| row.date < removed.date && row.state.is_some())?;
            let is_new = !is_removed(before) || is_open_on(before.date);
            let is_explained = told.iter().any(|event| {
                event.side == removed.side && (before.date..=removed.date).contains(&event.at.date)
            });
            let counts = is_new && !is_explained && !is_above_foot && !is_open_on(removed.date);
            counts.then_some(Told {
                level: AmputationLevel::Minor,
                side: removed.side,
                height: None,
                at: Dated::new(removed.date, removed.source),
                label: Some(removed.label),
                is_staged: false,
                seen_from: own.next().map(|first| first.date),
            })
        })
        .collect()
}

/// Every telling of an amputation up to a day, by date.
fn tellings(person: &Person<'_>, until: NaiveDate) -> Vec<Told> {
    let events = person.events.iter().filter(|event| event.date <= until);
    let mut told: Vec<Told> = events.filter_map(told_by_event).collect();
    let seen = person.observations;
    let seen = &seen[..seen.partition_point(|row| row.date <= until)];
    let by_state = told_by_states(seen, &told);
    if !by_state.is_empty() {
        told.extend(by_state);
        // stable: what an event tells comes before what a state tells
        told.sort_by_key(|told| told.at.date);
    }
    told
}

/// Whether a telling adds nothing to the amputation before it on that leg, whose last telling lies so many days back: the
/// operation that removed this lesion is told once by an event and once by its state.
fn is_told_again(told: &Told, previous: &Amputation, days: i64, rules: &Rules) -> bool {
    let names_it = || {
        let mut named = previous.ulcer_labels.iter();
        told.label
            .is_some_and(|label| named.any(|(known, _)| *known == label))
    };
    let is_near = days <= rules.reopening_window_days;
    match told.seen_from {
        Some(_) if previous.level == AmputationLevel::Major => true,
        Some(from) => {
            let may_be_it = previous.ulcer_labels.is_empty() && from <= previous.at.date;
            is_near && (may_be_it || names_it())
        }
        None => previous.is_told_by_state && told.level == previous.level && is_near && names_it(),
    }
}

/// Amputations that count on each leg, by date. A report of the same day and level is the same amputation; a
/// planned stage or closure within `staged_amputation_days` is part of the one before unless it is higher. A lesion
/// found removed without any event counts like an amputation of the day it was found so.
fn amputations(person: &Person<'_>, until: NaiveDate, rules: &Rules) -> Vec<Amputation> {
    let mut counted: Vec<Amputation> = Vec::new();
    let mut last_stage: Vec<(Side, NaiveDate, bool)> = Vec::new();
    for told in tellings(person, until) {
        let label = told.label.map(|label| (label, told.at));
        let stage = last_stage
            .iter_mut()
            .find(|(known, _, _)| *known == told.side);
        let previous = counted
            .iter_mut()
            .rev()
            .find(|known| known.side == told.side);
        if let (Some(previous), Some((_, date, was_staged))) = (previous, stage) {
            let days = days_between(*date, told.at.date);
            let is_again = is_told_again(&told, previous, days, rules);
            if is_again && told.seen_from.is_some() {
                continue;
            }
            let is_same_report = days == 0 && told.level == previous.level;
            let is_higher = (told.level, told.height) > (previous.level, previous.height)
                && (told.level > previous.level
                    || (told.height.is_some() && previous.height.is_some()));
            let is_stage = (told.is_staged || *was_staged) && days <= rules.staged_amputation_days;
            (*date, *was_staged) = (told.at.date, told.is_staged);
            if is_same_report || is_again || (is_stage && !is_higher) {
                if is_same_report || is_again {
                    previous.height = previous.height.max(told.height);
                }
                previous.ulcer_labels.extend(label);
                continue;
            }
        } else {
            last_stage.push((told.side, told.at.date, told.is_staged));
        }
        counted.push(Amputation {
            side: told.side,
            level: told.level,
            height: told.height,
            at: told.at,
            ulcer_labels: label.into_iter().collect(),
            is_told_by_state: told.seen_from.is_some(),
        });
    }
    counted
}
