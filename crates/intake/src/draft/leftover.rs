//! Columns for which no field was found: what their cells look like, and which of them might be what a section needs.
//! No cell of them is written.

use super::assign::Plan;
use super::judge::{MISSING, as_number, is_several};
use super::orders::Orders;
use super::sample::Sampled;
use super::shape::Group;
use super::words::Section;
use std::collections::BTreeSet;

/// More kinds of cells are no answers to choose from.
const MOST_KINDS: usize = 12;

/// A column, or columns that differ by a number or a side.
pub(super) struct Leftover {
    pub(super) file: usize,
    pub(super) pattern: String,
    pub(super) columns: Vec<usize>,
}

/// What the cells of a column look like.
pub(super) enum Look {
    Empty,
    /// Dates, and how they can be read.
    Dates(Orders),
    Numbers,
    /// Several numbers in one cell.
    Sizes,
    /// A few kinds of cells, each many times.
    Kinds(usize),
    Other,
}

impl Leftover {
    pub(super) fn new(file: usize, group: &Group) -> Self {
        Self {
            file,
            pattern: group.pattern.clone(),
            columns: group.columns.clone(),
        }
    }

    /// The cells that hold something.
    fn cells<'s>(&'s self, sampled: &'s Sampled) -> Vec<&'s str> {
        let cells = sampled.cells(&self.columns);
        cells
            .filter(|cell| !MISSING.contains(&cell.to_lowercase().as_str()))
            .collect()
    }

    pub(super) fn look(&self, sampled: &Sampled) -> Look {
        let cells = self.cells(sampled);
        let n = cells.len();
        if n == 0 {
            return Look::Empty;
        }
        let is_most = |share: usize| 10 * share >= 9 * n;
        let orders = Orders::of(cells.iter().copied());
        if is_most(usize::try_from(orders.n_dates()).unwrap_or(0)) {
            return Look::Dates(orders);
        }
        if is_most(
            cells
                .iter()
                .filter(|cell| as_number(cell).is_some())
                .count(),
        ) {
            return Look::Numbers;
        }
        if is_most(cells.iter().filter(|cell| is_several(cell)).count()) {
            return Look::Sizes;
        }
        let kinds: BTreeSet<&str> = cells.into_iter().collect();
        match kinds.len() {
            few if few <= MOST_KINDS && 5 * few <= n => Look::Kinds(few),
            _ => Look::Other,
        }
    }

    /// What is said of it, in words.
    pub(super) fn words(&self, sampled: &Sampled) -> String {
        let n = self.cells(sampled).len();
        match self.look(sampled) {
            Look::Empty => "no row read holds anything in it".to_owned(),
            Look::Dates(orders) => format!("{n} cells, nearly all dates: {}", orders.words()),
            Look::Numbers => format!("{n} cells, nearly all numbers"),
            Look::Sizes => format!(
                "{n} cells, nearly all sizes such as `a x b`: map length, width and depth to it with part = 1, 2 and 3"
            ),
            Look::Kinds(few) => format!("{n} cells of {few} kinds"),
            Look::Other => format!("{n} cells"),
        }
    }

    /// Whether nearly every row holds something in it.
    fn is_on_every_row(&self, sampled: &Sampled) -> bool {
        let n_rows = sampled.rows.len();
        n_rows > 0 && 100 * self.cells(sampled).len() >= 95 * n_rows
    }
}

/// The one column of dates of a file that every row has, where nothing else was found for the date.
pub(super) fn only_date<'l>(
    leftovers: &'l [Leftover],
    files: &[Sampled],
    file: usize,
) -> Option<(&'l Leftover, Orders)> {
    let sampled = files.get(file)?;
    let mut dates = leftovers
        .iter()
        .filter(|leftover| leftover.file == file && leftover.columns.len() == 1)
        .filter(|leftover| leftover.is_on_every_row(sampled))
        .filter_map(|leftover| match leftover.look(sampled) {
            Look::Dates(orders) => Some((leftover, orders)),
            _ => None,
        });
    match (dates.next(), dates.next()) {
        (Some(only), None) => Some(only),
        _ => None,
    }
}

/// The column of a file that all files have by the same name, on every row and with many kinds of cells: as a rule it names
/// the person. With its reason.
pub(super) fn shared_key<'l>(
    leftovers: &'l [Leftover],
    files: &[Sampled],
    file: usize,
) -> Option<(&'l Leftover, String)> {
    let sampled = files.get(file).filter(|_| files.len() > 1)?;
    let mut keys = leftovers
        .iter()
        .filter(|leftover| leftover.file == file && leftover.columns.len() == 1)
        .filter(|leftover| {
            (files.iter()).all(|other| other.headers.contains(&leftover.pattern))
                && leftover.is_on_every_row(sampled)
                && !matches!(leftover.look(sampled), Look::Dates(_) | Look::Kinds(_))
        });
    let (Some(only), None) = (keys.next(), keys.next()) else {
        return None;
    };
    let kinds: BTreeSet<&str> = only.cells(sampled).into_iter().collect();
    let reason = format!(
        "every file has a column of this name; {} of {} rows hold one, {} different",
        only.cells(sampled).len(),
        sampled.rows.len(),
        kinds.len()
    );
    Some((only, reason))
}

/// The column by which the rows of a file name rows of the file of visits, each of which has one of its own, where person or day
/// of the rows is not told otherwise: the place of that file, and the column.
pub(super) fn named_visit<'f>(
    plan: &Plan,
    files: &'f [Sampled],
    file: usize,
) -> Option<(usize, &'f str)> {
    let visits = plan.roles.iter().position(|role| *role == Section::Visit)?;
    let (here, there) = (files.get(file)?, files.get(visits)?);
    if visits == file {
        return None;
    }
    let cells = |sampled: &'f Sampled, header: &String| -> Option<Vec<&'f str>> {
        let place = sampled.headers.iter().position(|known| known == header)?;
        let cells = (sampled.rows.iter()).filter_map(move |row| row.get(place).map(str::trim));
        Some(cells.filter(|cell| !cell.is_empty()).collect())
    };
    let column = there.headers.iter().find(|header| {
        let (Some(named), Some(names)) = (cells(there, header), cells(here, header)) else {
            return false;
        };
        let kinds: BTreeSet<&str> = named.iter().copied().collect();
        let n_known = names.iter().filter(|name| kinds.contains(**name)).count();
        // both samples may be a part of their file
        kinds.len() == there.rows.len()
            && 100 * names.len() >= 95 * here.rows.len()
            && (2 * n_known >= names.len() && n_known > 0)
    })?;
    Some((visits, column))
}
