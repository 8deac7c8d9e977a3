//! How what happened elsewhere finds its way into the records.

use crate::course::{Happening, History};
use crate::person::Person;
use crate::record::{Event, Row};
use crate::words::{Attendance, Setting};

/// A letter waits this long for the next visit; then it gets an administrative row.
const LETTER_WAITS_DAYS: i32 = 14;
/// Events that have room in one row.
const N_EVENTS: usize = 2;

/// All rows of the records up to a day, with the events in them that the practice knew by then.
pub(crate) fn filed_rows(history: &History, person: &Person, last_day: i32) -> Vec<Row> {
    let mut rows: Vec<Row> = history
        .rows
        .iter()
        .filter(|row| row.day <= last_day)
        .cloned()
        .collect();
    let mut known: Vec<(i32, Event)> = history
        .happenings
        .iter()
        .filter_map(|happening| Some((known_day(happening, &rows)?, event(happening, history))))
        .filter(|(day, _)| *day <= last_day)
        .collect();
    known.sort_by_key(|(day, event)| (*day, event.day));
    for (day, event) in known {
        let start = rows.partition_point(|row| row.day < day);
        let has_room = |row: &&mut Row| {
            row.events.len() < N_EVENTS
                && match row.attendance {
                    Attendance::Kept => row.day <= day + LETTER_WAITS_DAYS,
                    Attendance::Administrative => row.day == day,
                    Attendance::Missed | Attendance::Cancelled => false,
                }
        };
        if let Some(row) = rows[start..].iter_mut().find(has_room) {
            row.events.push(event);
        } else {
            let mut row = Row::empty(day, Attendance::Administrative, person.clinician);
            row.events.push(event);
            rows.insert(start, row);
        }
    }
    rows
}

/// The day of the letter; for an amputation, the next examination if that comes first.
fn known_day(happening: &Happening, rows: &[Row]) -> Option<i32> {
    let seen_day = happening.kind.level().and_then(|_| {
        rows.iter()
            .find(|row| {
                row.attendance == Attendance::Kept
                    && row.setting != Setting::Remote
                    && row.day >= happening.day
            })
            .map(|row| row.day)
    });
    [happening.told_day, seen_day].into_iter().flatten().min()
}

fn event(happening: &Happening, history: &History) -> Event {
    Event {
        kind: happening.kind,
        day: happening.day,
        side: happening.side,
        height: happening.height,
        label: happening
            .lesion
            .and_then(|lesion| history.lesions[lesion].label),
        is_staged: happening.is_staged,
    }
}
