//! What the export can know, and arithmetic on its days.

use chrono::{Days, NaiveDate};

/// What the export can know, as declared by the pipeline file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DataHorizon {
    /// First day the export covers.
    pub data_start: NaiveDate,
    /// Last day the export is complete; included.
    pub cut_off: NaiveDate,
    /// Deaths are known up to this day.
    pub deaths_known_to: NaiveDate,
    /// Hospital procedures are known up to this day.
    pub procedures_known_to: NaiveDate,
}

impl DataHorizon {
    /// Last day up to which both deaths and hospital procedures are known, never after the cut-off.
    pub(crate) fn limbs_known_to(&self) -> NaiveDate {
        self.cut_off
            .min(self.deaths_known_to)
            .min(self.procedures_known_to)
    }

    /// Last day up to which deaths are known, never after the cut-off.
    pub(crate) fn deaths_seen_to(&self) -> NaiveDate {
        self.cut_off.min(self.deaths_known_to)
    }
}

/// The day `days` later; the last day chrono knows where that overflows.
pub(crate) fn days_after(date: NaiveDate, days: i64) -> NaiveDate {
    let shifted = if days >= 0 {
        date.checked_add_days(Days::new(days.unsigned_abs()))
    } else {
        date.checked_sub_days(Days::new(days.unsigned_abs()))
    };
    shifted.unwrap_or(if days >= 0 {
        NaiveDate::MAX
    } else {
        NaiveDate::MIN
    })
}

/// Whole days from one date to another, negative when the second is earlier.
pub(crate) fn days_between(from: NaiveDate, to: NaiveDate) -> i64 {
    (to - from).num_days()
}

/// The same in half the room; no two dates that chrono knows lie further apart.
pub(crate) fn whole_days(from: NaiveDate, to: NaiveDate) -> i32 {
    i32::try_from(days_between(from, to)).unwrap_or(i32::MAX)
}
