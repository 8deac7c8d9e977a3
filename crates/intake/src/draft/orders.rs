//! In which orders of day and month the dates of a column can be read.

use crate::dates::{DateOrder, read_date};

/// Fewer cells that only one order can read decide nothing.
const FEWEST: u64 = 10;

/// How many cells each order can read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Orders {
    /// In the order of `DateOrder::ALL`.
    read: [u64; 4],
    /// Cells that at least one order can read.
    n_dates: u64,
    only_day_first: u64,
    only_month_first: u64,
}

impl Orders {
    pub(super) fn of<'c>(cells: impl Iterator<Item = &'c str>) -> Self {
        let mut orders = Self::default();
        for cell in cells {
            let is_read = DateOrder::ALL
                .iter()
                .map(|order| read_date(cell, *order).is_ok());
            let mut reads = [false; 4];
            for (place, is_read) in reads.iter_mut().zip(is_read) {
                *place = is_read;
            }
            for (n, is_read) in orders.read.iter_mut().zip(reads) {
                *n += u64::from(is_read);
            }
            let [day_first, month_first, ..] = reads;
            orders.n_dates += u64::from(reads.contains(&true));
            orders.only_day_first += u64::from(day_first && !month_first);
            orders.only_month_first += u64::from(month_first && !day_first);
        }
        orders
    }

    pub(super) fn plus(self, other: Self) -> Self {
        let mut sum = self;
        for (n, more) in sum.read.iter_mut().zip(other.read) {
            *n += more;
        }
        sum.n_dates += other.n_dates;
        sum.only_day_first += other.only_day_first;
        sum.only_month_first += other.only_month_first;
        sum
    }

    pub(super) const fn n_dates(&self) -> u64 {
        self.n_dates
    }

    /// The one order that reads nearly every date, where no other reads nearly as many.
    pub(super) fn decided(&self) -> Option<DateOrder> {
        let [day_first, month_first, iso, year_first] = self.read;
        let is_nearly_all = |n: u64| n > 0 && 100 * n >= 95 * self.n_dates;
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
            && 2 * day_first.max(month_first) > self.n_dates
    }

    pub(super) fn words(&self) -> String {
        match self.decided() {
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
        assert!(Orders::of(["04/03/2025"].into_iter()).is_ambiguous());
        assert!(!Orders::of([].into_iter()).is_ambiguous());
    }
}
