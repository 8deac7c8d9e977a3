//! Calendar dates as exports write them. The order of day and month is declared, never guessed.

mod month_names;

use chrono::{Datelike, Days, NaiveDate, TimeDelta};
use month_names::spelt_out;
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
        /// `45964` is 3 November 2025: days counted from 30 December 1899, as cells of a spreadsheet hold dates. Five digits, a
        /// part of a day behind them is passed over.
        DayNumber = "day-number",
    }
}

/// How a column writes its dates, by the layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct DateForm {
    pub(crate) order: DateOrder,
    /// The first of the hundred years that two digits may stand for; without one such a year is not read.
    pub(crate) two_digit_years_from: Option<i32>,
    /// How far the clinic's clocks are ahead of UTC, for times that say they are in UTC.
    pub(crate) utc_offset_minutes: Option<i32>,
}

impl From<DateOrder> for DateForm {
    fn from(order: DateOrder) -> Self {
        Self {
            order,
            two_digit_years_from: None,
            utc_offset_minutes: None,
        }
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

/// Reads a trimmed cell. Years 1900 to 2200; separators `/`, `-`, `.`; the same separator throughout. A month that is spelt out
/// leaves no doubt, so such a date is read whatever the order. The day is the one that is written, or the one on the clinic's
/// clocks where the time says that it is in UTC.
pub(crate) fn read_date(cell: &str, form: impl Into<DateForm>) -> Result<WrittenDate, DateFault> {
    let form = form.into();
    let order = form.order;
    if let (DateOrder::Iso, Some(written)) = (order, plain_day(cell.as_bytes())) {
        return Ok(written);
    }
    if order == DateOrder::DayNumber {
        return day_number(cell);
    }
    let (day, time) = cell.split_once(['T', ' ']).unwrap_or((cell, ""));
    let Some(parts) = Parts::of(day).filter(|_| is_time(time)) else {
        return with_month_name(cell, form);
    };
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
        (DateOrder::Iso | DateOrder::YearFirst, [year, month, day]) => {
            whole_date(year, month, day, form)
        }
        (DateOrder::DayFirst, [day, month, year]) => whole_date(year, month, day, form),
        (DateOrder::MonthFirst, [month, day, year]) => whole_date(year, month, day, form),
        _ => Err(DateFault::Unreadable),
    }?;
    if !time.is_empty() && written.precision != DatePrecision::Day {
        return Err(DateFault::Unreadable);
    }
    Ok(match form.utc_offset_minutes {
        Some(minutes) if is_in_utc(time) => WrittenDate {
            date: moved(written.date, time, minutes),
            ..written
        },
        _ => written,
    })
}

fn with_month_name(cell: &str, form: DateForm) -> Result<WrittenDate, DateFault> {
    let has = |is: fn(&u8) -> bool| cell.as_bytes().iter().any(is);
    let spelt = (has(u8::is_ascii_digit) && has(u8::is_ascii_alphabetic))
        .then(|| spelt_out(cell))
        .flatten()
        .ok_or(DateFault::Unreadable)?;
    let year = spelt.year.whole(form)?;
    match spelt.day {
        Some(day) => on_day(year, spelt.month, day),
        None => on_month(year, spelt.month),
    }
}

/// Whether a cell is a date whose month is spelt out, which every order reads.
pub(crate) fn has_month_name(cell: &str, form: DateForm) -> bool {
    Parts::of(cell).is_none() && with_month_name(cell, form).is_ok()
}

/// Whether a cell is a date with a time that says it is in UTC, so that its day is not that of the clinic's clocks.
pub(crate) fn tells_utc(cell: &str) -> bool {
    let (_, time) = cell.split_once(['T', ' ']).unwrap_or((cell, ""));
    is_time(time) && is_in_utc(time)
}

/// What may stand behind a day: a time, with AM or PM, an offset or the name of UTC.
fn is_time(text: &str) -> bool {
    let text = text
        .trim_end_matches("UTC")
        .trim_end_matches("GMT")
        .trim_end();
    let half = text.len().checked_sub(2).filter(|at| *at > 0);
    let text = match half.and_then(|at| text.split_at_checked(at)) {
        Some((time, half))
            if half.eq_ignore_ascii_case("am") || half.eq_ignore_ascii_case("pm") =>
        {
            time
        }
        _ => text,
    };
    text.bytes().all(|byte| b"0123456789:.+-Z ".contains(&byte))
}

fn is_in_utc(time: &str) -> bool {
    ["Z", "UTC", "GMT", "+00:00", "+0000", "-00:00"]
        .iter()
        .any(|end| time.ends_with(end))
        && time.contains(':')
}

/// The day of a time in UTC on clocks that are so many minutes ahead of it.
fn moved(date: NaiveDate, time: &str, minutes: i32) -> NaiveDate {
    let mut parts = time.trim_start().split(':');
    let mut two = || {
        let digits: String = parts.next()?.chars().take(2).collect();
        digits.parse::<i64>().ok()
    };
    let (Some(hour), Some(minute)) = (two(), two()) else {
        return date;
    };
    // twelve at night and at noon are written 12 where the half of the day is named
    let half = time.to_ascii_lowercase();
    let hour = match (half.contains("am"), half.contains("pm")) {
        (true, _) => hour % 12,
        (_, true) => hour % 12 + 12,
        _ => hour,
    };
    let days = (hour * 60 + minute + i64::from(minutes)).div_euclid(24 * 60);
    date.checked_add_signed(TimeDelta::days(days))
        .unwrap_or(date)
}

/// The day of a number of days. Fewer digits could be a year, more are no day of this or the last century.
fn day_number(cell: &str) -> Result<WrittenDate, DateFault> {
    let (days, part) = cell.split_once(['.', ',']).unwrap_or((cell, "0"));
    let is_plain = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if days.len() != 5 || !is_plain(days) || !is_plain(part) {
        return Err(DateFault::Unreadable);
    }
    let first = NaiveDate::from_ymd_opt(1899, 12, 30).ok_or(DateFault::Unreadable)?;
    let days = days.parse().map_err(|_| DateFault::Unreadable)?;
    first
        .checked_add_days(Days::new(days))
        .map(|date| WrittenDate {
            date,
            precision: DatePrecision::Day,
        })
        .ok_or(DateFault::Unreadable)
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

fn whole_date(
    year: &Part,
    month: &Part,
    day: &Part,
    form: DateForm,
) -> Result<WrittenDate, DateFault> {
    if month.n_digits > 2 || day.n_digits > 2 {
        return Err(DateFault::Unreadable);
    }
    on_day(year.whole(form)?, month.value, day.value)
}

fn on_month(year: u32, month: u32) -> Result<WrittenDate, DateFault> {
    let first = on_day(year, month, 1)?;
    Ok(WrittenDate {
        precision: DatePrecision::Month,
        ..first
    })
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
    match month {
        Some(month) => on_month(year.value, month.value),
        None => Ok(WrittenDate {
            precision: DatePrecision::Year,
            ..on_day(year.value, 1, 1)?
        }),
    }
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Part {
    value: u32,
    n_digits: u8,
}

impl Part {
    /// The year in full; one of two digits is within the hundred years that the layout declares.
    fn whole(self, form: DateForm) -> Result<u32, DateFault> {
        match (self.n_digits, form.two_digit_years_from) {
            (4, _) => Ok(self.value),
            (2, None) => Err(DateFault::AmbiguousYear),
            (2, Some(first)) => {
                let first = u32::try_from(first).map_err(|_| DateFault::Unreadable)?;
                let year = first - first % 100 + self.value;
                Ok(if year < first { year + 100 } else { year })
            }
            _ => Err(DateFault::Unreadable),
        }
    }
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
            ("03-Nov-2025", DateOrder::DayFirst, "2025-11-03 day"),
            ("03-Nov-2025", DateOrder::Iso, "2025-11-03 day"),
            ("3. November 2025", DateOrder::MonthFirst, "2025-11-03 day"),
            ("03NOV2025", DateOrder::YearFirst, "2025-11-03 day"),
            ("Nov 3, 2025", DateOrder::DayFirst, "2025-11-03 day"),
            ("Nov 2025", DateOrder::DayFirst, "2025-11-01 month"),
            ("03-Nov-25", DateOrder::DayFirst, "ambiguous year"),
            ("31-Nov-2025", DateOrder::DayFirst, "unreadable"),
            (
                "03-Nov-2025 14:30:00",
                DateOrder::DayFirst,
                "2025-11-03 day",
            ),
            ("3 Nove 2025", DateOrder::DayFirst, "unreadable"),
            (
                "11/03/2025 12:00:00 AM",
                DateOrder::MonthFirst,
                "2025-11-03 day",
            ),
            ("2025-11-03 14:30:00 UTC", DateOrder::Iso, "2025-11-03 day"),
            ("2025-11-03 AM", DateOrder::Iso, "unreadable"),
            ("45964", DateOrder::DayNumber, "2025-11-03 day"),
            ("45964.75", DateOrder::DayNumber, "2025-11-03 day"),
            ("2025", DateOrder::DayNumber, "unreadable"),
            ("2025-11-03", DateOrder::DayNumber, "unreadable"),
            ("45964", DateOrder::Iso, "unreadable"),
        ] {
            let read = match read_date(cell, order) {
                Ok(written) => format!("{} {}", written.date, written.precision),
                Err(DateFault::AmbiguousYear) => "ambiguous year".to_owned(),
                Err(DateFault::Unreadable) => "unreadable".to_owned(),
            };
            assert_eq!(read, expected, "{cell} {order}");
        }
    }

    /// Two digits stand for a year of the declared hundred, and for none where nothing is declared.
    #[test]
    fn two_digits_are_a_year_of_the_declared_hundred() {
        let form = |first| DateForm {
            two_digit_years_from: Some(first),
            ..DateForm::from(DateOrder::DayFirst)
        };
        for (cell, first, year) in [
            ("03/11/25", 2000, 2025),
            ("03/11/00", 2000, 2000),
            ("03/11/99", 1970, 1999),
            ("03/11/70", 1970, 1970),
            ("03/11/69", 1970, 2069),
            ("03-Nov-25", 1970, 2025),
        ] {
            let read = read_date(cell, form(first)).unwrap();
            assert_eq!(read.date.year(), year, "{cell} {first}");
        }
    }

    /// Days on clocks of Honolulu, Berlin in winter and Brisbane, worked by hand; a time with another offset, or none, has
    /// the day that it says.
    #[test]
    fn a_time_in_utc_has_the_day_of_the_clinics_clocks() {
        for (cell, minutes, day) in [
            ("2025-11-03T01:30:00Z", -600, 2),
            ("2025-11-03T23:30:00Z", 60, 4),
            ("2025-11-03T22:59:59Z", 60, 3),
            ("2025-11-03T14:00:00+00:00", 600, 4),
            ("2025-11-03 13:59:00 UTC", 600, 3),
            ("2025-11-03 11:30:00 PM UTC", 60, 4),
            ("2025-11-03 12:30:00 AM UTC", -60, 2),
            ("2025-11-03T23:30:00+02:00", 60, 3),
            ("2025-11-03T23:30:00", 60, 3),
            ("2025-11-03", -600, 3),
        ] {
            let form = DateForm {
                utc_offset_minutes: Some(minutes),
                ..DateForm::from(DateOrder::Iso)
            };
            let read = read_date(cell, form).unwrap();
            assert_eq!(read.date.day(), day, "{cell} {minutes}");
        }
        assert!(tells_utc("2025-11-03T01:30:00Z") && !tells_utc("2025-11-03T01:30:00"));
        assert!(!tells_utc("2025-11-03") && !tells_utc("2025-11-03T01:30:00+01:00"));
    }
}
