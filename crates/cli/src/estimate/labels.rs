//! Labels as codes and back.

use super::table::Table;
use crate::failure::Failure;
use serde_json::{Value, json};

/// The distinct labels of a column in order, and each row's code.
///
/// Labels that are all numbers are ordered as numbers, others as text. Causes keep their own whole numbers as codes.
pub(super) struct Labels {
    names: Vec<String>,
    pub(super) codes: Vec<u32>,
    first_code: u32,
}

impl Labels {
    /// Codes from 0 in the order of the labels.
    pub(super) fn new(cells: &[&str]) -> Self {
        Self::from_code(cells, 0, |_| false)
    }

    /// The labels of a column, where one is asked for.
    pub(super) fn of_column(table: &Table, name: &Option<String>) -> Result<Option<Self>, Failure> {
        let cells = name.as_ref().map(|name| table.labels(name)).transpose()?;
        Ok(cells.map(|cells| Self::new(&cells)))
    }

    /// Codes from 1; cells that `is_none` keeps get 0.
    pub(super) fn from_1(cells: &[&str], is_none: impl Fn(&str) -> bool) -> Self {
        Self::from_code(cells, 1, is_none)
    }

    fn from_code(cells: &[&str], first_code: u32, is_none: impl Fn(&str) -> bool) -> Self {
        let mut by_text: Vec<&str> = cells
            .iter()
            .copied()
            .filter(|cell| !is_none(cell))
            .collect();
        by_text.sort_unstable();
        by_text.dedup();
        // found again by text; numbered in the order shown
        let mut shown: Vec<usize> = (0..by_text.len()).collect();
        if let Some(numbers) = as_numbers(&by_text) {
            shown.sort_by(|&left, &right| {
                let of = |place: usize| numbers.get(place).copied().unwrap_or(0.0);
                of(left).total_cmp(&of(right))
            });
        }
        let mut code_of_place = vec![0; by_text.len()];
        for (&place, code) in shown.iter().zip(first_code..) {
            if let Some(known) = code_of_place.get_mut(place) {
                *known = code;
            }
        }
        let codes = cells
            .iter()
            .map(|cell| {
                let place = by_text.binary_search(cell).ok();
                place
                    .and_then(|place| code_of_place.get(place).copied())
                    .unwrap_or(0)
            })
            .collect();
        let names = shown
            .iter()
            .filter_map(|&place| by_text.get(place).copied());
        Self {
            names: names.map(str::to_owned).collect(),
            codes,
            first_code,
        }
    }

    /// The codes in use, in order.
    pub(super) fn all(&self) -> Vec<u32> {
        (self.first_code..self.first_code + self.names.len() as u32).collect()
    }

    pub(super) fn code_of(&self, name: &str) -> Option<u32> {
        let place = self.names.iter().position(|known| known == name)?;
        Some(place as u32 + self.first_code)
    }

    pub(super) fn name_of(&self, code: u32) -> &str {
        code.checked_sub(self.first_code)
            .and_then(|place| self.names.get(place as usize))
            .map_or("", String::as_str)
    }

    pub(super) fn names(&self) -> &[String] {
        &self.names
    }

    /// A label as JSON: a whole number where it is one, otherwise text.
    pub(super) fn json_of(&self, code: u32) -> Value {
        let name = self.name_of(code);
        name.parse::<i64>()
            .map_or_else(|_| json!(name), |number| json!(number))
    }
}

/// The labels as numbers, when all are.
fn as_numbers(names: &[&str]) -> Option<Vec<f64>> {
    let numbers = names
        .iter()
        .map(|name| name.parse().ok().filter(|number: &f64| number.is_finite()));
    numbers.collect()
}

/// A number for each distinct label, where only sameness matters: the labels' own numbers when they are plain whole ones.
pub(super) fn identities(cells: &[&str]) -> Vec<u32> {
    let number = |cell: &&str| {
        let is_plain = *cell == "0" || !cell.starts_with(['0', '+']);
        cell.parse::<u32>().ok().filter(|_| is_plain)
    };
    let numbers: Option<Vec<u32>> = cells.iter().map(number).collect();
    numbers.unwrap_or_else(|| Labels::new(cells).codes)
}

/// Whether a cause says that nothing happened: 0, empty or `censored`.
pub(super) fn is_censored(cell: &str) -> bool {
    cell.is_empty()
        || cell.eq_ignore_ascii_case("censored")
        || cell.parse::<f64>().is_ok_and(|number| number == 0.0)
}
