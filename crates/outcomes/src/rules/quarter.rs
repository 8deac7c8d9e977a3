//! Calendar quarters.

use chrono::{Datelike, Months, NaiveDate};
use serde::Serialize;
use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};

/// What stands behind the label of a quarter of shifted dates.
const SHIFTED: &str = " (shifted)";

/// Whether quarters are labelled as quarters of shifted dates.
static ARE_SHIFTED: AtomicBool = AtomicBool::new(false);

/// Labels every quarter from now on as one of shifted dates: `2025 Q3 (shifted)`. Said once by the program, after the layout
/// is known and before anything is worded, so that no page can name such a quarter without saying so.
pub fn label_quarters_as_shifted() {
    ARE_SHIFTED.store(true, Ordering::Relaxed);
}

/// A calendar quarter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Quarter {
    year: i32,
    /// 1 to 4.
    number: u32,
}

impl Quarter {
    /// The quarter a day lies in.
    pub fn of(date: NaiveDate) -> Self {
        Self {
            year: date.year(),
            number: date.month0() / 3 + 1,
        }
    }

    /// Reads `2025Q3`, `2025-Q3`, `2025 Q3` or its label as a quarter of shifted dates; years 1900 to 2200.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.strip_suffix(SHIFTED).unwrap_or(text);
        let (year, number) = text.split_once('Q')?;
        let year = year.trim();
        let year: i32 = year.strip_suffix('-').unwrap_or(year).parse().ok()?;
        let number: u32 = number.parse().ok()?;
        ((1900..=2200).contains(&year) && (1..=4).contains(&number))
            .then_some(Self { year, number })
    }

    /// First day.
    pub fn start(self) -> NaiveDate {
        NaiveDate::from_ymd_opt(self.year, (self.number - 1) * 3 + 1, 1).unwrap_or(NaiveDate::MIN)
    }

    /// Last day, included.
    pub fn end(self) -> NaiveDate {
        self.start()
            .checked_add_months(Months::new(3))
            .and_then(|next| next.pred_opt())
            .unwrap_or(NaiveDate::MAX)
    }

    /// The quarter `n` earlier.
    pub fn back(self, n: u32) -> Self {
        let index = self.year * 4 + i32::try_from(self.number).unwrap_or(1)
            - 1
            - i32::try_from(n).unwrap_or(0);
        Self {
            year: index.div_euclid(4),
            number: index.rem_euclid(4).unsigned_abs() + 1,
        }
    }

    /// The next quarter.
    pub fn next(self) -> Self {
        Self::of(crate::rules::days_after(self.end(), 1))
    }

    /// Whether a day lies in this quarter.
    pub fn contains(self, date: NaiveDate) -> bool {
        Self::of(date) == self
    }
}

impl fmt::Display for Quarter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shifted = if ARE_SHIFTED.load(Ordering::Relaxed) {
            SHIFTED
        } else {
            ""
        };
        write!(f, "{} Q{}{shifted}", self.year, self.number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_knows_its_first_and_last_day() {
        let quarter = Quarter::parse("2024Q1").unwrap();
        assert_eq!(
            quarter.start(),
            NaiveDate::from_ymd_opt(2024, 1, 1).unwrap()
        );
        assert_eq!(quarter.end(), NaiveDate::from_ymd_opt(2024, 3, 31).unwrap());
        assert_eq!(quarter.back(1).to_string(), "2023 Q4");
        assert_eq!(quarter.back(2).next().to_string(), "2023 Q4");
        assert_eq!(quarter.next().to_string(), "2024 Q2");
        assert_eq!(quarter.back(5).to_string(), "2022 Q4");
    }

    #[test]
    fn a_quarter_is_read_as_exports_and_reports_write_it() {
        let quarter = Quarter::parse("2024Q1");
        assert!(quarter.is_some());
        for text in ["2024 Q1", "2024-Q1", "2024 Q1 (shifted)"] {
            assert_eq!(Quarter::parse(text), quarter, "{text}");
        }
    }

    #[test]
    fn a_quarter_that_does_not_exist_is_refused() {
        for text in ["2025Q0", "2025Q5", "2025", "Q1", "20x5Q1", "2025--Q1"] {
            assert_eq!(Quarter::parse(text), None, "{text}");
        }
    }
}
