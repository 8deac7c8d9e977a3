use super::{Person, View};
use crate::rules::{DataHorizon, Rules, days_between};
use crate::tables::{AmputationHeight, AmputationLevel, Dated, Event, EventKind, NameId, Side};
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
    pub fn first_amputation(
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
        amputations: amputations(person.events, procedures_to, rules),
        transfers_out,
    }
}

/// Amputations that count on each leg, by date. A report of the same day and level is the same amputation; a
/// planned stage or closure within `staged_amputation_days` is part of the one before unless it is higher.
fn amputations(events: &[Event], until: NaiveDate, rules: &Rules) -> Vec<Amputation> {
    let mut counted: Vec<Amputation> = Vec::new();
    let mut last_stage: Vec<(Side, NaiveDate, bool)> = Vec::new();
    for event in events.iter().filter(|event| event.date <= until) {
        let level = match event.kind {
            EventKind::MinorAmputation => AmputationLevel::Minor,
            EventKind::MajorAmputation => AmputationLevel::Major,
            _ => continue,
        };
        let Some(side) = event.side else { continue };
        let stage = last_stage.iter_mut().find(|(known, _, _)| *known == side);
        let previous = counted.iter_mut().rev().find(|known| known.side == side);
        if let (Some(previous), Some((_, date, was_staged))) = (previous, stage) {
            let is_same_report = *date == event.date && level == previous.level;
            let is_higher = (level, event.height) > (previous.level, previous.height)
                && (level > previous.level
                    || (event.height.is_some() && previous.height.is_some()));
            let is_stage = (event.is_staged || *was_staged)
                && days_between(*date, event.date) <= rules.staged_amputation_days;
            let is_folded = is_same_report || (is_stage && !is_higher);
            (*date, *was_staged) = (event.date, event.is_staged);
            if is_folded {
                if is_same_report {
                    previous.height = previous.height.max(event.height);
                }
                let at = Dated::new(event.date, event.source);
                previous
                    .ulcer_labels
                    .extend(event.ulcer_label.map(|label| (label, at)));
                continue;
            }
        } else {
            last_stage.push((side, event.date, event.is_staged));
        }
        counted.push(Amputation {
            side,
            level,
            height: event.height,
            at: Dated::new(event.date, event.source),
            ulcer_labels: event
                .ulcer_label
                .map(|label| (label, Dated::new(event.date, event.source)))
                .into_iter()
                .collect(),
        });
    }
    counted
}
