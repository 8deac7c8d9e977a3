//! The cells of one row of the wide export.

use crate::chance::Chance;
use crate::scenario::Typing;
use chrono::{Datelike, NaiveDate};
use csv::StringRecord;
use std::fmt::Write;

/// The cells of one row, filled from left to right; their memory is used again for every row.
#[derive(Debug, Default)]
pub(crate) struct Cells {
    pub(crate) row: StringRecord,
    text: String,
}

impl Cells {
    /// Goes back to an empty row.
    pub(crate) fn restart(&mut self) {
        self.row.clear();
    }

    /// Leaves cells empty that do not apply.
    pub(crate) fn skip(&mut self, n: usize) {
        for _ in 0..n {
            self.row.push_field("");
        }
    }

    pub(crate) fn text(&mut self, text: &str) {
        self.row.push_field(text);
    }

    pub(crate) fn write(&mut self, text: impl std::fmt::Display) {
        self.text.clear();
        // Writing to a string cannot fail.
        let _ = write!(self.text, "{text}");
        self.row.push_field(&self.text);
    }

    /// A number as it is charted; most are whole.
    pub(crate) fn number(&mut self, number: f64) {
        if number.fract() == 0.0 && (0.0..1e9).contains(&number) {
            self.text.clear();
            push_digits(&mut self.text, number as u32, 1);
            self.row.push_field(&self.text);
        } else {
            self.write(number);
        }
    }

    pub(crate) fn date(&mut self, date: NaiveDate) {
        self.text.clear();
        push_digits(&mut self.text, date.day(), 2);
        self.text.push('/');
        push_digits(&mut self.text, date.month(), 2);
        self.text.push('/');
        push_digits(&mut self.text, date.year().unsigned_abs(), 4);
        self.row.push_field(&self.text);
    }
}

/// Appends a whole number, with zeros in front up to this many digits.
fn push_digits(text: &mut String, number: u32, n_digits: u32) {
    if number >= 10 || n_digits > 1 {
        push_digits(text, number / 10, n_digits.saturating_sub(1));
    }
    text.push(char::from(b'0' + (number % 10) as u8));
}

/// Writes a value, or one of the spellings of a missing one.
pub(crate) struct Pen<'a> {
    pub(crate) cells: &'a mut Cells,
    pub(crate) typing: &'a Typing,
    pub(crate) chance: &'a mut Chance,
}

impl Pen<'_> {
    /// A value that was asked for and not written down.
    pub(crate) fn missing(&mut self) {
        let spellings = &self.typing.missing_spellings;
        let others = spellings.len().saturating_sub(1);
        let position = match others > 0 && self.chance.happens(self.typing.share_other_spelling) {
            true => self
                .chance
                .whole(1, i32::try_from(others).unwrap_or(1))
                .unsigned_abs() as usize,
            false => 0,
        };
        let spelling = spellings.get(position).map_or("", String::as_str);
        self.cells.text(spelling);
    }

    pub(crate) fn code(&mut self, code: Option<&str>) {
        match code {
            Some(code) => self.cells.text(code),
            None => self.missing(),
        }
    }

    pub(crate) fn yes_no(&mut self, answer: Option<bool>) {
        self.code(answer.map(|yes| if yes { "Y" } else { "N" }));
    }

    pub(crate) fn number(&mut self, number: Option<f64>) {
        match number {
            Some(number) => self.cells.number(number),
            None => self.missing(),
        }
    }

    pub(crate) fn date(&mut self, date: Option<NaiveDate>) {
        match date {
            Some(date) => self.cells.date(date),
            None => self.missing(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_dates_are_written_as_charted() {
        let mut cells = Cells::default();
        for number in [0.0, 7.0, 41.0, 7.5, 0.46, 120.0] {
            cells.number(number);
        }
        cells.date(NaiveDate::from_ymd_opt(2025, 11, 3).unwrap_or_default());
        let written: Vec<&str> = cells.row.iter().collect();
        assert_eq!(
            written,
            ["0", "7", "41", "7.5", "0.46", "120", "03/11/2025"]
        );
    }
}
