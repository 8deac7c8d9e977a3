//! The cells of one column in one part of an export.

use super::describe::What;
use crate::dates::{DateForm, DateOrder, read_date};
use crate::layout::DecimalMark;
use crate::load::cells::number;
use outcomes::check::Magnitudes;
use outcomes::check::overview::{Sums, Worth};

/// Rows of each person, by number, and in how many of them each column holds something. What belongs to one person stands
/// together, since one row adds to many columns.
pub(super) struct Persons {
    n_columns: usize,
    /// The rows, then one count a column; empty of whom no row was seen. Small, because there are as many as persons times
    /// columns.
    counts: Vec<Box<[u16]>>,
}

impl Persons {
    pub(super) const fn new(n_columns: usize) -> Self {
        Self {
            n_columns,
            counts: Vec::new(),
        }
    }

    /// Counts a row of a person, and gives that person's counts of the columns.
    pub(super) fn add_row(&mut self, person: u32) -> &mut [u16] {
        let place = person as usize;
        if self.counts.len() <= place {
            self.counts.resize_with(place + 1, Box::default);
        }
        let Some(own) = self.counts.get_mut(place) else {
            return &mut [];
        };
        if own.is_empty() {
            *own = vec![0; self.n_columns + 1].into_boxed_slice();
        }
        let Some((n_rows, of_columns)) = own.split_first_mut() else {
            return &mut [];
        };
        count(n_rows);
        of_columns
    }

    /// How many have a row.
    pub(super) fn n(&self) -> u64 {
        self.counts.iter().filter(|own| !own.is_empty()).count() as u64
    }

    /// What their rows are worth, and then what their cells of each column are.
    pub(super) fn worth(&self) -> Vec<Worth> {
        let mut all = vec![Worth::default(); self.n_columns + 1];
        for own in &self.counts {
            for (worth, n) in all.iter_mut().zip(own) {
                worth.add(u64::from(*n));
            }
        }
        all
    }
}

/// One more, as far as a small number reaches.
pub(super) const fn count(n: &mut u16) {
    *n = n.saturating_add(1);
}

/// What a text is in its column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Seen {
    /// Spelt as missing, or not to be looked at.
    Missing,
    /// Something of which only the presence counts.
    Present,
    /// As it is written.
    Number(f64),
    Day,
    DayInOtherOrder,
    /// A code, by its place in the list.
    Code(usize),
    UnknownCode,
}

/// What a text that is not missing is in its column.
pub(super) fn seen(what: &What<'_>, text: &str, decimal: DecimalMark) -> Seen {
    match what {
        What::Ignored => Seen::Missing,
        What::Unmapped | What::Text => Seen::Present,
        What::Number => number(text, decimal).map_or(Seen::Present, Seen::Number),
        What::Date(form) if read_date(text, *form).is_ok() => Seen::Day,
        What::Date(form) => {
            let mut others = DateOrder::ALL.iter().filter(|other| **other != form.order);
            let in_order = |order| DateForm { order, ..*form };
            match others.any(|other| read_date(text, in_order(*other)).is_ok()) {
                true => Seen::DayInOtherOrder,
                false => Seen::Present,
            }
        }
        What::Codes(codes) => {
            let place = codes
                .iter()
                .position(|code| code.eq_ignore_ascii_case(text));
            place.map_or(Seen::UnknownCode, Seen::Code)
        }
    }
}

/// Counts of one column.
#[derive(Default)]
pub(super) struct Tally {
    n_present: u64,
    sizes: Option<Magnitudes>,
    codes: Vec<u64>,
    n_unknown_codes: u64,
    n_dates: u64,
    n_other_order: u64,
}

impl Tally {
    pub(super) fn new(what: &What<'_>) -> Self {
        Self {
            sizes: matches!(what, What::Number).then(Magnitudes::default),
            codes: match what {
                What::Codes(codes) => vec![0; codes.len()],
                _ => Vec::new(),
            },
            ..Self::default()
        }
    }

    /// Counts a cell that holds something.
    pub(super) fn add(&mut self, seen: Seen) {
        self.n_present += 1;
        match seen {
            Seen::Missing | Seen::Present => {}
            Seen::Number(value) => {
                if let Some(sizes) = &mut self.sizes {
                    sizes.add(value);
                }
            }
            Seen::Day => self.n_dates += 1,
            Seen::DayInOtherOrder => self.n_other_order += 1,
            Seen::Code(place) => {
                if let Some(n) = self.codes.get_mut(place) {
                    *n += 1;
                }
            }
            Seen::UnknownCode => self.n_unknown_codes += 1,
        }
    }

    /// What was counted; `worth` is that of the cells.
    pub(super) fn sums(&self, what: &What<'_>, worth: Worth) -> Sums {
        let codes = match what {
            What::Codes(codes) => codes.as_slice(),
            _ => &[],
        };
        Sums {
            n_present: self.n_present,
            n_independent: worth.rows(),
            sizes: self.sizes.as_ref().map_or(Vec::new(), Magnitudes::bins),
            codes: codes
                .iter()
                .zip(&self.codes)
                .filter(|(_, n)| **n > 0)
                .map(|(code, n)| ((*code).to_owned(), *n))
                .collect(),
            n_unknown_codes: self.n_unknown_codes,
            n_dates: self.n_dates,
            n_other_order: self.n_other_order,
        }
    }
}
