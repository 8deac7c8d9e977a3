//! What the day of a resource is the day of, and whether it can be used.

use super::super::row::{RowFault, is_before_birth};
use super::part::Day;
use chrono::NaiveDate;
use outcomes::rules::DataHorizon;
use outcomes::tables::Patient;

/// Whether a resource tells what was seen on a day or what happened on it; names the reasons.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Dating {
    Seen,
    Happened,
}

impl Dating {
    const fn choose(self, seen: &'static str, happened: &'static str) -> &'static str {
        match self {
            Self::Seen => seen,
            Self::Happened => happened,
        }
    }

    pub(super) fn day(self, day: Day) -> Result<NaiveDate, RowFault> {
        match day {
            Day::Known(date) => Ok(date),
            Day::Absent => Err(RowFault::new(
                self.choose("no-visit-date", "no-event-date"),
                "the row has no date",
            )),
            Day::Unreadable => Err(RowFault::new(
                self.choose("unreadable-visit-date", "unreadable-event-date"),
                "the date of the row cannot be read, or names no day",
            )),
        }
    }

    /// Refuses a day after the cut-off, before birth, or on which somebody dead was seen.
    pub(super) fn check(
        self,
        date: NaiveDate,
        person: Option<&Patient>,
        horizon: &DataHorizon,
    ) -> Result<(), RowFault> {
        if date > horizon.cut_off {
            let check = self.choose("visit-after-data-cut-off", "event-after-data-cut-off");
            let message = "the row is dated after the declared data cut-off";
            return Err(RowFault::new(check, message));
        }
        let Some(person) = person else {
            return Ok(());
        };
        if is_before_birth(date, person.birth_year) {
            let message = "the row is dated before the year of birth";
            return Err(RowFault::new("visit-before-birth", message));
        }
        let is_late = person.death.is_some_and(|death| date > death.date);
        if is_late && self == Self::Seen {
            let fault = RowFault::new(
                "visit-after-death",
                "the row is dated after the recorded death",
            );
            return Err(fault.with_hint("one of the two dates is wrong"));
        }
        Ok(())
    }
}
