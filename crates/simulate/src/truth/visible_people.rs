//! People, as perfectly written visits show them.

use super::spells::{Stretch, joined};
use super::visible::examinations;
use super::visible_ulcers::{Ending, VisibleUlcer};
use crate::record::Row;
use crate::words::{Attendance, Kind};
use serde::Serialize;

/// One person in view.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisiblePerson {
    /// Pseudonymous id.
    pub patient: String,
    /// First kept visit in the export.
    pub first_visit_day: Option<i32>,
    /// Last kept visit.
    pub last_visit_day: Option<i32>,
    /// Last visit at which a clinician examined the feet.
    pub last_examination_day: Option<i32>,
    /// First day an ulcer was seen open.
    pub first_open_day: Option<i32>,
    /// First day on which all wounds on both feet were known closed for good, amputated, or gone with the limb.
    pub all_closed_day: Option<i32>,
    /// Latest day before it on which one of them was still seen open.
    pub all_closed_last_open_day: Option<i32>,
    /// The spell that ended then held a surgical wound, or an ulcer that ended by amputation.
    pub had_amputation: bool,
    /// Next day after it on which an ulcer was seen open, anywhere. Up to 28 days later it is no recurrence.
    pub next_ulcer_day: Option<i32>,
    /// Last examination before that.
    pub last_clear_day: Option<i32>,
    /// Where, seen from the ulcers of the spell before: same-site, same-foot, other-foot.
    pub next_ulcer_place: Option<&'static str>,
    /// Death, where the practice was told.
    pub death_day: Option<i32>,
    /// Transfer to another service.
    pub transfer_day: Option<i32>,
}

pub(crate) fn person(id: &str, rows: &[Row], ulcers: &[VisibleUlcer]) -> VisiblePerson {
    let kept = rows
        .iter()
        .filter(|row| row.attendance == Attendance::Kept)
        .map(|row| row.day);
    let event_day = |kind: Kind| {
        let events = rows.iter().flat_map(|row| &row.events);
        events
            .filter(|event| event.kind == kind)
            .map(|event| event.day)
            .min()
    };
    let stretches = ulcers.iter().map(|ulcer| Stretch {
        start: f64::from(start_day(ulcer, ulcers)),
        end: closed_day(ulcer).map(f64::from),
    });
    // The wound of an ulcer that was never seen is no ulcer, so it begins no spell of its own.
    let holds_an_ulcer = |spell: &Stretch| {
        ulcers.iter().any(|ulcer| {
            let day = f64::from(ulcer.index_day);
            !ulcer.is_surgical_wound()
                && spell.start <= day
                && spell.end.is_none_or(|end| day <= end)
        })
    };
    let mut spells = joined(stretches.collect());
    spells.retain(holds_an_ulcer);
    let first = spells.first();
    let of_first = |ulcer: &&VisibleUlcer| {
        first.is_some_and(|spell| {
            spell
                .end
                .is_none_or(|end| f64::from(ulcer.index_day) <= end)
        })
    };
    let all_closed_day = first.and_then(|spell| spell.end).map(|day| day as i32);
    let next_ulcer_day = spells.get(1).map(|spell| spell.start as i32);
    let next = ulcers
        .iter()
        .find(|ulcer| Some(ulcer.index_day) == next_ulcer_day && !ulcer.is_surgical_wound());
    let before = ulcers.iter().filter(of_first);
    VisiblePerson {
        patient: id.to_owned(),
        first_visit_day: kept.clone().min(),
        last_visit_day: kept.max(),
        last_examination_day: examinations(rows).map(|row| row.day).max(),
        first_open_day: first.map(|spell| spell.start as i32),
        all_closed_day,
        all_closed_last_open_day: all_closed_day
            .and_then(|_| before.clone().map(|ulcer| ulcer.last_open_day).max()),
        had_amputation: before.clone().any(|ulcer| {
            ulcer.is_surgical_wound()
                || matches!(ulcer.end, Ending::MinorAmputation | Ending::MajorAmputation)
        }),
        next_ulcer_day,
        last_clear_day: next_ulcer_day.and_then(|day| {
            examinations(rows)
                .map(|row| row.day)
                .filter(|examined| *examined < day)
                .max()
        }),
        next_ulcer_place: next.map(|next| {
            let has = |is_like: fn(&VisibleUlcer, &VisibleUlcer) -> bool| {
                before.clone().any(|ulcer| is_like(ulcer, next))
            };
            if has(|ulcer, next| ulcer.side == next.side && ulcer.site == next.site) {
                "same-site"
            } else if has(|ulcer, next| ulcer.side == next.side) {
                "same-foot"
            } else {
                "other-foot"
            }
        }),
        death_day: event_day(Kind::Death),
        transfer_day: event_day(Kind::TransferOut),
    }
}

/// The day from which a wound keeps a person open. A surgical wound does so from the operation, though first seen later.
fn start_day(wound: &VisibleUlcer, ulcers: &[VisibleUlcer]) -> i32 {
    let operations = ulcers.iter().filter(|ulcer| {
        wound.is_surgical_wound()
            && ulcer.end == Ending::MinorAmputation
            && ulcer.side == wound.side
    });
    operations
        .map(|ulcer| ulcer.end_day)
        .filter(|day| *day <= wound.index_day)
        .max()
        .unwrap_or(wound.index_day)
}

/// The day from which an ulcer keeps nobody open any more.
fn closed_day(ulcer: &VisibleUlcer) -> Option<i32> {
    match ulcer.end {
        Ending::Healed | Ending::MinorAmputation | Ending::MajorAmputation | Ending::Merged => {
            Some(ulcer.end_day)
        }
        Ending::Died | Ending::TransferredOut | Ending::Lost | Ending::Open => None,
    }
}
