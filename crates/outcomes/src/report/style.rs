//! How numbers and dates are written wherever a reader sees them. Chosen once by the program, before anything is worded; data stay
//! as they are.

use crate::coded;
use chrono::{Datelike as _, NaiveDate};
use std::sync::OnceLock;

coded! {
    /// The mark between whole and tenths.
    pub enum DecimalMark {
        /// `12,983` and `9.3`.
        Point = "point",
        /// `12 983` and `9,3`: thousands are parted by a space that does not break, since a comma would be taken for a decimal
        /// mark. Source: SI Brochure, 9th edition (2019), 5.4.4.
        Comma = "comma",
    }
}

coded! {
    /// The order of a date.
    pub enum DateOrder {
        /// `14 January 2026`.
        DayMonthYear = "day-month-year",
        /// `January 14, 2026`.
        MonthDayYear = "month-day-year",
        /// `2026-01-14`. Source: ISO 8601.
        YearMonthDay = "year-month-day",
    }
}

/// How numbers and dates are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// The mark between whole and tenths, and with it the mark between thousands.
    pub decimal_mark: DecimalMark,
    /// The order of a date.
    pub date_order: DateOrder,
}

impl Style {
    /// What is used unless another style is chosen.
    pub const DEFAULT: Self = Self {
        decimal_mark: DecimalMark::Point,
        date_order: DateOrder::DayMonthYear,
    };

    pub(super) fn decimal(self, value: f64, digits: usize) -> String {
        let plain = format!("{value:.digits$}");
        match self.decimal_mark {
            DecimalMark::Point => plain,
            DecimalMark::Comma => plain.replace('.', ","),
        }
    }

    /// Words written beforehand, in which a point between two digits is a decimal point and a comma before three digits parts
    /// thousands.
    pub(super) fn fixed_words(self, words: &str) -> String {
        if self.decimal_mark == DecimalMark::Point {
            return words.to_owned();
        }
        let letters: Vec<char> = words.chars().collect();
        let is_digit = |place: usize| letters.get(place).is_some_and(char::is_ascii_digit);
        let parts_thousands =
            |place: usize| (1..=3).all(|on| is_digit(place + on)) && !is_digit(place + 4);
        let marked = letters.iter().enumerate().map(|(place, letter)| {
            let is_after_digit = place.checked_sub(1).is_some_and(is_digit);
            match letter {
                '.' if is_after_digit && is_digit(place + 1) => ',',
                ',' if is_after_digit && parts_thousands(place) => '\u{a0}',
                letter => *letter,
            }
        });
        marked.collect()
    }

    pub(super) fn whole(self, n: u64) -> String {
        let between = match self.decimal_mark {
            DecimalMark::Point => ',',
            DecimalMark::Comma => '\u{a0}',
        };
        let digits = n.to_string();
        let mut grouped = String::with_capacity(digits.len() + digits.len() / 3);
        for (place, digit) in digits.chars().enumerate() {
            if place > 0 && (digits.len() - place).is_multiple_of(3) {
                grouped.push(between);
            }
            grouped.push(digit);
        }
        grouped
    }

    pub(super) fn date(self, date: NaiveDate) -> String {
        const MONTHS: [&str; 12] = [
            "January",
            "February",
            "March",
            "April",
            "May",
            "June",
            "July",
            "August",
            "September",
            "October",
            "November",
            "December",
        ];
        let month = MONTHS
            .get(date.month0() as usize)
            .copied()
            .unwrap_or_default();
        match self.date_order {
            DateOrder::DayMonthYear => format!("{} {month} {}", date.day(), date.year()),
            DateOrder::MonthDayYear => format!("{month} {}, {}", date.day(), date.year()),
            DateOrder::YearMonthDay => date.to_string(),
        }
    }
}

static STYLE: OnceLock<Style> = OnceLock::new();

/// Chooses the style of everything worded from now on. The first choice stands; it is made before the first word.
pub fn choose_style(style: Style) {
    let _ = STYLE.set(style);
}

/// The style in force.
pub(super) fn style() -> Style {
    STYLE.get().copied().unwrap_or(Style::DEFAULT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_written_beforehand_get_the_mark_and_keep_their_full_stops() {
        let comma = Style {
            decimal_mark: DecimalMark::Comma,
            ..Style::DEFAULT
        };
        let words = "24.2% (19.5-28.8) of 17,353, in 2014,2015. Then .5 and 2.";
        assert_eq!(
            comma.fixed_words(words),
            "24,2% (19,5-28,8) of 17\u{a0}353, in 2014,2015. Then .5 and 2."
        );
        assert_eq!(Style::DEFAULT.fixed_words(words), words);
    }

    #[test]
    fn every_style_writes_thousands_tenths_and_dates_its_own_way() {
        let day = NaiveDate::from_ymd_opt(2026, 1, 4).unwrap();
        let cases = [
            (
                DecimalMark::Point,
                DateOrder::DayMonthYear,
                "12,983",
                "9.3",
                "4 January 2026",
            ),
            (
                DecimalMark::Comma,
                DateOrder::MonthDayYear,
                "12\u{a0}983",
                "9,3",
                "January 4, 2026",
            ),
            (
                DecimalMark::Comma,
                DateOrder::YearMonthDay,
                "12\u{a0}983",
                "9,3",
                "2026-01-04",
            ),
        ];
        for (decimal_mark, date_order, thousands, tenths, date) in cases {
            let style = Style {
                decimal_mark,
                date_order,
            };
            assert_eq!(style.whole(12_983), thousands);
            assert_eq!(style.decimal(9.27, 1), tenths);
            assert_eq!(style.date(day), date);
            assert_eq!(style.whole(999), "999");
        }
    }
}
