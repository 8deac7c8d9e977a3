use crate::chance::Chance;
use crate::scenario::Typing;
use chrono::{Datelike, NaiveDate};
use std::fmt::Write;

/// The cells of one row, filled from left to right; the strings are used again for every row.
pub(crate) struct Cells {
    pub(crate) cells: Vec<String>,
    next: usize,
}

impl Cells {
    pub(crate) fn new(n_columns: usize) -> Self {
        Self {
            cells: vec![String::new(); n_columns],
            next: 0,
        }
    }

    /// Empties every cell and goes back to the first.
    pub(crate) fn restart(&mut self) {
        self.cells.iter_mut().for_each(String::clear);
        self.next = 0;
    }

    pub(crate) fn n_filled(&self) -> usize {
        self.next
    }

    /// Leaves cells empty that do not apply.
    pub(crate) fn skip(&mut self, n: usize) {
        self.next += n;
    }

    pub(crate) fn write(&mut self, text: impl std::fmt::Display) {
        if let Some(cell) = self.cells.get_mut(self.next) {
            // Writing to a string cannot fail.
            let _ = write!(cell, "{text}");
        }
        self.next += 1;
    }

    pub(crate) fn text(&mut self, text: &str) {
        if let Some(cell) = self.cells.get_mut(self.next) {
            cell.push_str(text);
        }
        self.next += 1;
    }

    pub(crate) fn date(&mut self, date: NaiveDate) {
        self.write(format_args!(
            "{:02}/{:02}/{}",
            date.day(),
            date.month(),
            date.year()
        ));
    }
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
            Some(number) => self.cells.write(number),
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
