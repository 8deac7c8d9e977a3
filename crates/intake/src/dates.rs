//! Calendar dates as exports write them. The order of day and month is declared, never guessed.

use chrono::{Datelike, NaiveDate};
use outcomes::coded;
use outcomes::tables::DatePrecision;

coded! {
    /// The order in which a column writes its dates.
    pub enum DateOrder {
        /// `3/11/2025` is 3 November. Month and year alone: `11/2025`.
        DayFirst = "day-first",
        /// `3/11/2025` is 11 March. Month and year alone: `11/2025`.
        MonthFirst = "month-first",
        /// `2025-11-03`, a time of day after it is passed over; `2025-11` and `2025` for less exact dates.
        Iso = "iso",
        /// `2025/11/03` with any separator, or `20251103`.
        YearFirst = "year-first",
    }
}

/// A date as exactly as it was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct WrittenDate {
    /// First day of what was written.
    pub(crate) date: NaiveDate,
    /// Day, month or year.
    pub(crate) precision: DatePrecision,
}

/// Why a cell is not a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DateFault {
    /// It does not have the declared form, or names no day of the calendar.
    Unreadable,
    /// The year has two digits.
    AmbiguousYear,
}

const FIRST_YEAR: i32 = 1900;
const LAST_YEAR: i32 = 2200;

/// Reads a trimmed cell. Years 1900 to 2200; separators `/`, `-`, `.`; the same separator throughout.
pub(crate) fn read_date(cell: &str, order: DateOrder) -> Result<WrittenDate, DateFault> {
    if let (DateOrder::Iso, Some(written)) = (order, plain_day(cell.as_bytes())) {
        return Ok(written);
    }
    let (day, time) = cell.split_once(['T', ' ']).unwrap_or((cell, ""));
    if !time.bytes().all(|byte| b"0123456789:.+-Z ".contains(&byte)) {
        return Err(DateFault::Unreadable);
    }
    let parts = Parts::of(day).ok_or(DateFault::Unreadable)?;
    let written = match (order, parts.numbers()) {
        (DateOrder::Iso | DateOrder::YearFirst, [whole])
            if whole.n_digits == 8 && !parts.is_separated() =>
        {
            let value = whole.value;
            on_day(value / 10_000, value / 100 % 100, value % 100)
        }
        (_, [year]) => part_of(year, None),
        (DateOrder::Iso | DateOrder::YearFirst, [year, month]) => part_of(year, Some(month)),
        (DateOrder::DayFirst | DateOrder::MonthFirst, [month, year]) => part_of(year, Some(month)),
        (DateOrder::Iso, [_, _, _]) if parts.separator != Some(b'-') => Err(DateFault::Unreadable),
        (DateOrder::Iso | DateOrder::YearFirst, [year, month, day]) => whole_date(year, month, day),
        (DateOrder::DayFirst, [day, month, year]) => whole_date(year, month, day),
        (DateOrder::MonthFirst, [month, day, year]) => whole_date(year, month, day),
        _ => Err(DateFault::Unreadable),
    }?;
    if !time.is_empty() && written.precision != DatePrecision::Day {
        return Err(DateFault::Unreadable);
    }
    Ok(written)
}

/// `2025-11-03`, as most dates are written; anything else takes the long way.
#[inline]
fn plain_day(cell: &[u8]) -> Option<WrittenDate> {
    let [a, b, c, d, b'-', e, f, b'-', g, h] = cell else {
        return None;
    };
    let number = |digits: &[&u8]| {
        digits.iter().try_fold(0, |number, digit| {
            let value = digit.wrapping_sub(b'0');
            (value <= 9).then(|| number * 10 + u32::from(value))
        })
    };
    on_day(number(&[a, b, c, d])?, number(&[e, f])?, number(&[g, h])?).ok()
}

/// A date known only to the month or year, moved to the first day of it.
pub(crate) fn first_day_of(date: NaiveDate, precision: DatePrecision) -> NaiveDate {
    match precision {
        DatePrecision::Day | DatePrecision::Week => date,
        DatePrecision::Month => date.with_day(1).unwrap_or(date),
        DatePrecision::Year => NaiveDate::from_ymd_opt(date.year(), 1, 1).unwrap_or(date),
    }
}

fn whole_date(year: &Part, month: &Part, day: &Part) -> Result<WrittenDate, DateFault> {
    let is_day_and_month = month.n_digits <= 2 && day.n_digits <= 2;
    match year.n_digits {
        2 if is_day_and_month => return Err(DateFault::AmbiguousYear),
        4 if is_day_and_month => {}
        _ => return Err(DateFault::Unreadable),
    }
    on_day(year.value, month.value, day.value)
}

fn on_day(year: u32, month: u32, day: u32) -> Result<WrittenDate, DateFault> {
    let year = i32::try_from(year).unwrap_or(0);
    NaiveDate::from_ymd_opt(year, month, day)
        .filter(|_| (FIRST_YEAR..=LAST_YEAR).contains(&year))
        .map(|date| WrittenDate {
            date,
            precision: DatePrecision::Day,
        })
        .ok_or(DateFault::Unreadable)
}

fn part_of(year: &Part, month: Option<&Part>) -> Result<WrittenDate, DateFault> {
    if year.n_digits != 4 || month.is_some_and(|month| month.n_digits > 2) {
        return Err(DateFault::Unreadable);
    }
    let first = on_day(year.value, month.map_or(1, |month| month.value), 1)?;
    let precision = if month.is_some() {
        DatePrecision::Month
    } else {
        DatePrecision::Year
    };
    Ok(WrittenDate { precision, ..first })
}

#[derive(Clone, Copy, Default)]
struct Part {
    value: u32,
    n_digits: u8,
}

/// Up to three numbers with one separator between them.
struct Parts {
    parts: [Part; 3],
    n: usize,
    separator: Option<u8>,
}

impl Parts {
    fn of(text: &str) -> Option<Self> {
        let mut read = Self {
            parts: [Part::default(); 3],
            n: 1,
            separator: None,
        };
        for byte in text.bytes() {
            if byte.is_ascii_digit() {
                let part = read.parts.get_mut(read.n - 1)?;
                part.value = part
                    .value
                    .checked_mul(10)?
                    .checked_add(u32::from(byte - b'0'))?;
                part.n_digits = part.n_digits.saturating_add(1);
            } else if matches!(byte, b'/' | b'-' | b'.')
                && read.separator.is_none_or(|known| known == byte)
            {
                read.separator = Some(byte);
                read.n += 1;
            } else {
                return None;
            }
        }
        let has_gap = read
            .parts
            .get(..read.n)?
            .iter()
            .any(|part| part.n_digits == 0);
        (!has_gap).then_some(read)
    }

    fn numbers(&self) -> &[Part] {
        self.parts.get(..self.n).unwrap_or_default()
    }

    const fn is_separated(&self) -> bool {
        self.separator.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_read_in_the_declared_order_and_no_other() {
        for (cell, order, expected) in [
            ("03/11/2025", DateOrder::DayFirst, "2025-11-03 day"),
            ("3.11.2025", DateOrder::DayFirst, "2025-11-03 day"),
            ("03-11-2025", DateOrder::MonthFirst, "2025-03-11 day"),
            ("13/11/2025", DateOrder::MonthFirst, "unreadable"),
            ("29/02/2024", DateOrder::DayFirst, "2024-02-29 day"),
            ("29/02/2025", DateOrder::DayFirst, "unreadable"),
            ("2025-11-03", DateOrder::DayFirst, "unreadable"),
            ("11/2025", DateOrder::DayFirst, "2025-11-01 month"),
            ("2025", DateOrder::DayFirst, "2025-01-01 year"),
            ("03/11/25", DateOrder::DayFirst, "ambiguous year"),
            ("03/11-2025", DateOrder::DayFirst, "unreadable"),
            ("2025-11-03", DateOrder::Iso, "2025-11-03 day"),
            ("2025-11-03T14:30:00Z", DateOrder::Iso, "2025-11-03 day"),
            ("2025-11-03 14:30", DateOrder::Iso, "2025-11-03 day"),
            ("2025-11-03 in the morning", DateOrder::Iso, "unreadable"),
            ("2025-11", DateOrder::Iso, "2025-11-01 month"),
            ("2025/11/03", DateOrder::Iso, "unreadable"),
            ("2025/11/03", DateOrder::YearFirst, "2025-11-03 day"),
            ("20251103", DateOrder::YearFirst, "2025-11-03 day"),
            ("20251103", DateOrder::DayFirst, "unreadable"),
            ("1899-12-31", DateOrder::Iso, "unreadable"),
            ("2025-11-03-01", DateOrder::Iso, "unreadable"),
            ("99999999999999/1/1", DateOrder::YearFirst, "unreadable"),
            ("", DateOrder::Iso, "unreadable"),
            ("//", DateOrder::DayFirst, "unreadable"),
        ] {
            let read = match read_date(cell, order) {
                Ok(written) => format!("{} {}", written.date, written.precision),
                Err(DateFault::AmbiguousYear) => "ambiguous year".to_owned(),
                Err(DateFault::Unreadable) => "unreadable".to_owned(),
            };
            assert_eq!(read, expected, "{cell} {order}");
        }
    }
}
