//! In which orders of day and month the dates of a column can be read.

use crate::dates::{DateFault, DateForm, DateOrder, has_month_name, read_date};
use std::ops::RangeInclusive;

/// Fewer cells that only one order can read decide nothing.
const FEWEST: u64 = 10;

/// Two digits of a year are looked at as if the layout declared them to begin here.
pub(super) const TWO_DIGIT_YEARS_FROM: i32 = 1970;

/// Numbers of days between these are dates from 1990 to 2060; of others the header would have to say so by itself.
const DAY_NUMBERS: RangeInclusive<u32> = 32_874..=58_804;

/// How many cells each order can read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Orders {
    /// Of day-first, month-first, iso and year-first.
    read: [u64; 4],
    /// Cells that at least one of these orders can read.
    n_dates: u64,
    only_day_first: u64,
    only_month_first: u64,
    /// Of the dates those whose month is spelt out, which any order reads.
    n_named: u64,
    /// Of the dates those with a year of two digits.
    n_two_digits: u64,
    /// Numbers that would be dates if they counted days.
    n_day_numbers: u64,
}

const SEPARATED: [DateOrder; 4] = [
    DateOrder::DayFirst,
    DateOrder::MonthFirst,
    DateOrder::Iso,
    DateOrder::YearFirst,
];

/// How a column is read whose order is this.
pub(super) fn form(order: DateOrder) -> DateForm {
    DateForm {
        two_digit_years_from: Some(TWO_DIGIT_YEARS_FROM),
        ..DateForm::from(order)
    }
}

impl Orders {
    pub(super) fn of<'c>(cells: impl Iterator<Item = &'c str>) -> Self {
        let mut orders = Self::default();
        for cell in cells {
            orders.add(cell);
        }
        orders
    }

    fn add(&mut self, cell: &str) {
        if has_month_name(cell, form(DateOrder::DayFirst)) {
            self.n_dates += 1;
            self.n_named += 1;
            let is_short = read_date(cell, DateOrder::DayFirst) == Err(DateFault::AmbiguousYear);
            self.n_two_digits += u64::from(is_short);
            return;
        }
        // two digits that come first are a day or a month far more often than a year
        let may_be_short = |order| matches!(order, DateOrder::DayFirst | DateOrder::MonthFirst);
        let reads = SEPARATED.map(|order| match may_be_short(order) {
            true => read_date(cell, form(order)).is_ok(),
            false => read_date(cell, order).is_ok(),
        });
        for (n, is_read) in self.read.iter_mut().zip(reads) {
            *n += u64::from(is_read);
        }
        let [day_first, month_first, ..] = reads;
        let is_date = reads.contains(&true);
        self.n_dates += u64::from(is_date);
        self.only_day_first += u64::from(day_first && !month_first);
        self.only_month_first += u64::from(month_first && !day_first);
        let is_whole = || {
            SEPARATED
                .iter()
                .any(|order| read_date(cell, *order).is_ok())
        };
        self.n_two_digits += u64::from(is_date && !is_whole());
        let days = cell
            .split(['.', ','])
            .next()
            .and_then(|days| days.parse().ok());
        let is_near = days.is_some_and(|days| DAY_NUMBERS.contains(&days));
        let is_day_number = is_near && read_date(cell, DateOrder::DayNumber).is_ok();
        self.n_day_numbers += u64::from(is_day_number);
    }

    pub(super) fn plus(self, other: Self) -> Self {
        let mut sum = self;
        for (n, more) in sum.read.iter_mut().zip(other.read) {
            *n += more;
        }
        sum.n_dates += other.n_dates;
        sum.only_day_first += other.only_day_first;
        sum.only_month_first += other.only_month_first;
        sum.n_named += other.n_named;
        sum.n_two_digits += other.n_two_digits;
        sum.n_day_numbers += other.n_day_numbers;
        sum
    }

    /// Dates that show by themselves that they are dates.
    pub(super) const fn n_dates(&self) -> u64 {
        self.n_dates
    }

    /// Dates, numbers of days among them, where the header says that the column holds dates.
    pub(super) const fn n_with_day_numbers(&self) -> u64 {
        self.n_dates + self.n_day_numbers
    }

    pub(super) const fn has_two_digit_years(&self) -> bool {
        self.n_two_digits > 0
    }

    /// The one order that reads nearly every date, where no other reads nearly as many.
    pub(super) fn decided(&self) -> Option<DateOrder> {
        if self.n_day_numbers >= FEWEST && self.n_day_numbers >= 20 * self.n_dates {
            return Some(DateOrder::DayNumber);
        }
        let n_in_digits = self.n_dates - self.n_named;
        if self.n_named > 0 && n_in_digits == 0 {
            // any order would do
            return Some(DateOrder::DayFirst);
        }
        let [day_first, month_first, iso, year_first] = self.read;
        let is_nearly_all = |n: u64| n > 0 && 100 * n >= 95 * n_in_digits;
        if is_nearly_all(iso) {
            return Some(DateOrder::Iso);
        }
        if is_nearly_all(year_first) {
            return Some(DateOrder::YearFirst);
        }
        // a few dates typed the other way round do not decide against the rest
        let decides = |here: u64, there: u64| here >= FEWEST && here >= 20 * there;
        if is_nearly_all(day_first) && decides(self.only_day_first, self.only_month_first) {
            return Some(DateOrder::DayFirst);
        }
        if is_nearly_all(month_first) && decides(self.only_month_first, self.only_day_first) {
            return Some(DateOrder::MonthFirst);
        }
        None
    }

    /// Whether most dates could be read with the day first and with the month first.
    pub(super) fn is_ambiguous(&self) -> bool {
        let [day_first, month_first, ..] = self.read;
        self.n_dates > 0
            && self.decided().is_none()
            && 2 * (day_first.max(month_first) + self.n_named) > self.n_dates
    }

    pub(super) fn words(&self) -> String {
        match self.decided() {
            Some(DateOrder::DayNumber) => {
                "they are numbers of days, as a spreadsheet counts them".to_owned()
            }
            Some(_) if self.n_named == self.n_dates => {
                "the month is spelt out, so that any order reads them".to_owned()
            }
            Some(order) => format!("{order} reads them, no other order reads as many"),
            None if self.is_ambiguous() => "day or month may come first".to_owned(),
            None => "no one order reads them".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_order_is_decided_by_days_beyond_the_twelfth_only() {
        let days = |days: &[&str]| Orders::of(days.iter().copied().cycle().take(30)).decided();
        assert_eq!(days(&["2025-03-04"]), Some(DateOrder::Iso));
        assert_eq!(days(&["2025/03/04"]), Some(DateOrder::YearFirst));
        assert_eq!(
            days(&["04/03/2025", "25/03/2025"]),
            Some(DateOrder::DayFirst)
        );
        assert_eq!(
            days(&["03/04/2025", "03/25/2025"]),
            Some(DateOrder::MonthFirst)
        );
        assert_eq!(days(&["04/03/2025", "05/06/2025"]), None);
        assert_eq!(days(&["25/03/2025", "03/25/2025"]), None);
        assert_eq!(days(&["heel"]), None);
        assert_eq!(days(&["04/03/25", "25/03/25"]), Some(DateOrder::DayFirst));
        assert_eq!(days(&["45964", "45965.5"]), Some(DateOrder::DayNumber));
        assert_eq!(days(&["12345", "heel"]), None);
        assert_eq!(days(&["4-Mar-2025"]), Some(DateOrder::DayFirst));
        // spelt-out months do not hide how the others are written
        assert_eq!(days(&["4-Mar-2025", "2025-03-04"]), Some(DateOrder::Iso));
        assert_eq!(days(&["4-Mar-2025", "04/03/2025"]), None);
        assert!(Orders::of(["04/03/2025"].into_iter()).is_ambiguous());
        assert!(!Orders::of([].into_iter()).is_ambiguous());
    }
}
