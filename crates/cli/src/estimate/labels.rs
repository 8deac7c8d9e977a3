//! Labels as codes and back.

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

    /// Codes from 1; cells that `is_none` keeps get 0.
    pub(super) fn from_1(cells: &[&str], is_none: impl Fn(&str) -> bool) -> Self {
        Self::from_code(cells, 1, is_none)
    }

    fn from_code(cells: &[&str], first_code: u32, is_none: impl Fn(&str) -> bool) -> Self {
        let mut names: Vec<&str> = cells
            .iter()
            .copied()
            .filter(|cell| !is_none(cell))
            .collect();
        names.sort_unstable();
        names.dedup();
        // by text first, so that a label is found again by halving; the order shown follows
        let by_text = names.clone();
        sort_as_numbers(&mut names);
        let rank: Vec<u32> = by_text
            .iter()
            .map(|name| names.iter().position(|other| other == name).unwrap_or(0) as u32)
            .collect();
        let codes = cells
            .iter()
            .map(|cell| match by_text.binary_search(cell) {
                Ok(place) if !is_none(cell) => rank.get(place).copied().unwrap_or(0) + first_code,
                _ => 0,
            })
            .collect();
        Self {
            names: names.into_iter().map(str::to_owned).collect(),
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

fn sort_as_numbers(names: &mut [&str]) {
    if names
        .iter()
        .all(|name| name.parse::<f64>().is_ok_and(f64::is_finite))
    {
        let number = |name: &str| name.parse().unwrap_or(0.0);
        names.sort_by(|left, right| {
            f64::total_cmp(&number(left), &number(right)).then_with(|| left.cmp(right))
        });
    }
}

/// Whether a cause says that nothing happened: 0, empty or `censored`.
pub(super) fn is_censored(cell: &str) -> bool {
    cell.is_empty()
        || cell.eq_ignore_ascii_case("censored")
        || cell.parse::<f64>().is_ok_and(|number| number == 0.0)
}
