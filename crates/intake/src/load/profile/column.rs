//! The cells of one column in one part of an export.

use super::describe::What;
use crate::dates::{DateOrder, read_date};
use crate::layout::DecimalMark;
use crate::load::cells::number;
use outcomes::check::Magnitudes;
use outcomes::check::overview::{Sums, worth};

/// A count for each person, by number. Small, because there is one for every column.
#[derive(Default)]
pub(super) struct Counts(Vec<u16>);

impl Counts {
    pub(super) fn add(&mut self, person: u32) {
        let place = person as usize;
        if self.0.len() <= place {
            self.0.resize(place + 1, 0);
        }
        if let Some(n) = self.0.get_mut(place) {
            *n = n.saturating_add(1);
        }
    }

    /// The counts of those who have any.
    pub(super) fn present(&self) -> impl Iterator<Item = u64> {
        self.0.iter().filter(|n| **n > 0).map(|n| u64::from(*n))
    }
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
        What::Date(order) if read_date(text, *order).is_ok() => Seen::Day,
        What::Date(order) => {
            let mut others = DateOrder::ALL.iter().filter(|other| *other != order);
            match others.any(|other| read_date(text, *other).is_ok()) {
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
    /// Cells of each person.
    pub(super) of_each: Counts,
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

    pub(super) fn sums(&self, what: &What<'_>) -> Sums {
        let codes = match what {
            What::Codes(codes) => codes.as_slice(),
            _ => &[],
        };
        Sums {
            n_present: self.n_present,
            n_independent: worth(self.of_each.present()),
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
