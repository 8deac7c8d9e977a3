//! What the text of a cell means in the field it fills. A text that comes again in its column is not understood twice.

use super::bind::BoundCell;
use super::cells::{CellFault, Row, credible, listed, unknown_code, year};
use super::marks::ByMark;
use super::row::Notes;
use super::sizes::measured;
use crate::dates::{WrittenDate, tells_utc};
use crate::fields::{Kind, OVER_90, PublishedCode};
use crate::quantity::{Quantity, Unit};
use chrono::NaiveDate;
use outcomes::tables::{NameId, Names};
use std::collections::BTreeSet;

/// What a cell means, from the text of it or from what the same text came to before.
#[inline]
pub(super) fn meaning<R>(
    kind: &Kind<R>,
    bound: &BoundCell<'_>,
    row: &Row<'_>,
    notes: &mut Notes<'_>,
) -> Result<Meaning, CellFault> {
    let mark = bound.position.and_then(|at| row.record.mark(at));
    if let Some(known) = mark.and_then(|mark| notes.meanings.get(bound, mark)) {
        return Ok(known);
    }
    let meaning = match row.text(bound) {
        Some(text) => judged(kind, bound, text, row, notes.names)?,
        None => Meaning::Missing,
    };
    if let (Meaning::Day(_) | Meaning::Written(_), Some(text)) = (meaning, row.text(bound)) {
        notes.meanings.note_utc(bound, text);
    }
    if let Some(mark) = mark {
        notes.meanings.put(bound, mark, meaning);
    }
    Ok(meaning)
}

/// What a text means in a cell that must be of a kind.
fn judged<R>(
    kind: &Kind<R>,
    bound: &BoundCell<'_>,
    text: &str,
    row: &Row<'_>,
    names: &mut Names,
) -> Result<Meaning, CellFault> {
    let cell = bound.cell;
    let (text, place) = match listed(cell, text) {
        None => (text, None),
        Some(Ok((_, None))) => return Ok(Meaning::NoAnswer),
        Some(Ok((place, Some(ours)))) => (ours, Some(place)),
        Some(Err(_)) if matches!(kind, Kind::BirthYear(_)) => (text, None),
        Some(Err(fault)) => return Err(fault),
    };
    Ok(match kind {
        Kind::Name(_) => Meaning::Name(names.intern(text)),
        Kind::Date(_) => Meaning::Day(row.date(bound, text)?),
        Kind::PartialDate(_) => Meaning::Written(row.written_date(bound, text)?),
        Kind::Number(quantity, _) => {
            let decimal = row.decimal(bound.position);
            match measured(text, cell.part, *quantity, decimal)? {
                None => Meaning::NoAnswer,
                Some((value, None)) => Meaning::Number(value),
                Some((value, Some(unit))) => Meaning::InUnit(value, unit),
            }
        }
        Kind::BirthYear(_) if text == OVER_90 => Meaning::Over90,
        Kind::Year(_) | Kind::BirthYear(_) => Meaning::Year(year(text)?),
        Kind::Flag(_) => match text {
            "yes" | "true" => Meaning::Flag(true),
            "no" | "false" => Meaning::Flag(false),
            _ => {
                return Err(unknown_code(
                    "expected: yes, no; or name a code list in the layout",
                ));
            }
        },
        Kind::Published(..) => Meaning::Itself,
        Kind::Code(codes, _) if (codes.is_known)(text) => {
            place.map_or(Meaning::Itself, Meaning::Listed)
        }
        Kind::Code(codes, _) => {
            return Err(unknown_code(format!(
                "expected: {}; or name a code list in the layout",
                (codes.spellings)().join(", ")
            )));
        }
    })
}

/// Puts what a cell means where it goes.
pub(super) fn put<R>(
    draft: &mut R,
    kind: &Kind<R>,
    bound: &BoundCell<'_>,
    meaning: Meaning,
    row: &Row<'_>,
    notes: &mut Notes<'_>,
) -> Result<(), CellFault> {
    match (kind, meaning) {
        (Kind::Name(set), Meaning::Name(name)) => set(draft, name),
        (Kind::Date(set), Meaning::Day(date)) => set(draft, date),
        (Kind::PartialDate(set), Meaning::Written(written)) => set(draft, written),
        (Kind::Number(quantity, set), Meaning::Number(value)) if bound.cell.unit_told.is_some() => {
            let unit = unit_of_row(bound, row, *quantity)?;
            set(draft, credible(value, *quantity, Some(unit))?);
        }
        (Kind::Number(quantity, set), Meaning::Number(value)) => {
            // of several numbers in a cell the first tells whether the unit of the column can be right
            if let (Some(position), None | Some(1)) = (bound.position, bound.cell.part) {
                let numbers = &mut *notes.numbers;
                numbers.add(position, *quantity, bound.cell.unit, value);
            }
            set(draft, credible(value, *quantity, bound.cell.unit)?);
        }
        (Kind::Number(quantity, set), Meaning::InUnit(value, unit)) => {
            set(draft, credible(value, *quantity, Some(unit))?);
        }
        (Kind::Year(set), Meaning::Year(year)) => set(draft, year),
        (Kind::BirthYear(set), Meaning::Year(year)) => set(draft, Some(year)),
        (Kind::BirthYear(set), Meaning::Over90) => set(draft, None),
        (Kind::Flag(set), Meaning::Flag(is_yes)) => set(draft, is_yes),
        (Kind::Code(_, set), Meaning::Listed(place)) => {
            let list = bound.cell.codes.as_ref();
            let pair = list.and_then(|list| list.codes.get(place));
            if let Some(ours) = pair.and_then(|pair| pair.ours.as_deref()) {
                set(draft, ours);
            }
        }
        (Kind::Code(_, set), Meaning::Itself) => set(draft, row.text(bound).unwrap_or_default()),
        (Kind::Published(system, set), Meaning::Itself) => set(
            draft,
            PublishedCode {
                system: *system,
                code: row.text(bound).unwrap_or_default().to_owned(),
                position: bound.position,
            },
        ),
        // no answer, and pairs that are never made
        _ => {}
    }
    Ok(())
}

/// The unit that another cell of the row tells. Without one the number could be anything.
fn unit_of_row(
    bound: &BoundCell<'_>,
    row: &Row<'_>,
    quantity: Quantity,
) -> Result<Unit, CellFault> {
    let told = bound.unit_position.and_then(|position| row.at(position));
    let list = (bound.cell.unit_told.as_ref()).and_then(|told| told.codes.as_ref());
    let unit = told.and_then(|told| match list {
        Some(list) => {
            let (_, pair) = list.find(told)?;
            Unit::from_code(pair.ours.as_deref()?)
        }
        None => Unit::from_written(told),
    });
    unit.filter(|unit| quantity.units().contains(unit))
        .ok_or_else(|| {
            CellFault::new(
                "unreadable-number",
                "the row does not tell the unit of the number, or one that the field does not take; the cell counts as missing",
            )
            .with_hint("give the unit in its column, or name its codes in the layout")
        })
}

/// What a text means in a cell of ours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Meaning {
    /// Spelt as missing.
    Missing,
    /// A code for no answer.
    NoAnswer,
    Name(NameId),
    Day(NaiveDate),
    Written(WrittenDate),
    /// As it is written, in the unit of the column.
    Number(f64),
    /// In a unit that the cell itself names.
    InUnit(f64, Unit),
    Year(i32),
    Over90,
    Flag(bool),
    /// A code of the layout's list, by its place there.
    Listed(usize),
    /// A text that is kept or understood as it stands.
    Itself,
}

/// What texts came to that a file has held before, cell of ours by cell of ours. A text that cannot be read is looked at again each
/// time, so that each is a finding.
pub(crate) struct Meanings {
    known: Vec<ByMark<Meaning>>,
    /// Positions of columns with times in UTC whose day was taken as it is there, no offset being declared.
    read_in_utc: BTreeSet<usize>,
}

impl Meanings {
    /// Nothing known of so many cells of ours.
    pub(crate) fn new(n_cells: usize) -> Self {
        Self {
            known: (0..n_cells).map(|_| ByMark::default()).collect(),
            read_in_utc: BTreeSet::new(),
        }
    }

    #[inline]
    fn get(&self, bound: &BoundCell<'_>, mark: u32) -> Option<Meaning> {
        self.known.get(bound.number)?.get(mark)
    }

    fn put(&mut self, bound: &BoundCell<'_>, mark: u32, meaning: Meaning) {
        if let Some(known) = self.known.get_mut(bound.number) {
            known.put(mark, meaning);
        }
    }

    /// Notes a date that was read as it was in UTC.
    fn note_utc(&mut self, bound: &BoundCell<'_>, text: &str) {
        if let (Some(position), None) = (bound.position, bound.dates.utc_offset_minutes)
            && tells_utc(text)
        {
            self.read_in_utc.insert(position);
        }
    }

    /// Positions of columns with times in UTC whose day was taken as it is there, no offset being declared.
    pub(crate) fn read_in_utc(&self) -> impl Iterator<Item = usize> {
        self.read_in_utc.iter().copied()
    }

    /// The whole date that the text of a cell is.
    pub(crate) fn date(
        &mut self,
        row: &Row<'_>,
        bound: &BoundCell<'_>,
        text: &str,
    ) -> Result<NaiveDate, CellFault> {
        let mark = bound.position.and_then(|at| row.record.mark(at));
        if let Some(Meaning::Day(date)) = mark.and_then(|mark| self.get(bound, mark)) {
            return Ok(date);
        }
        let date = row.date(bound, text)?;
        self.note_utc(bound, text);
        if let Some(mark) = mark {
            self.put(bound, mark, Meaning::Day(date));
        }
        Ok(date)
    }
}
