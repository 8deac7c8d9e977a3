//! Mistakes of the typist, made last and listed one by one.

use super::columns::{Column, N_ULCER_SLOTS};
use crate::chance::Chance;
use crate::scenario::Typing;
use csv::StringRecord;
use serde::{Serialize, Serializer};

/// What went wrong in one cell, or with the whole row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mistake {
    /// A length in cm where mm is asked for.
    WrongUnit,
    /// Day and month swapped into a date that does not exist.
    ImpossibleDate,
    /// A code that is in no list.
    UnknownCode,
    /// The other foot.
    WrongSide,
    /// The row is a copy of the one before.
    RepeatedRow,
    /// A value no patient can have.
    ImpossibleValue,
    /// An onset after the visit.
    OnsetAfterVisit,
}

impl Mistake {
    /// Spelling in the list of mistakes.
    pub const fn ours(self) -> &'static str {
        match self {
            Self::WrongUnit => "wrong-unit",
            Self::ImpossibleDate => "impossible-date",
            Self::UnknownCode => "unknown-code",
            Self::WrongSide => "wrong-side",
            Self::RepeatedRow => "repeated-row",
            Self::ImpossibleValue => "impossible-value",
            Self::OnsetAfterVisit => "onset-after-visit",
        }
    }
}

impl Serialize for Mistake {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.ours())
    }
}

/// One mistake in the wide export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TypingError {
    /// Number of the data record, counted from 1, header not counted.
    pub record: u64,
    /// Header of the column; empty when it is the whole row.
    pub column: String,
    /// What went wrong.
    pub mistake: Mistake,
}

/// Positions of the columns in which mistakes are made.
pub(crate) struct Places {
    dates: Vec<usize>,
    codes: Vec<usize>,
    values: Vec<(usize, &'static str)>,
    slots: Vec<Slot>,
    visit_date: usize,
}

struct Slot {
    side: usize,
    onset: usize,
    length: usize,
    width: usize,
}

impl Places {
    pub(crate) fn of(columns: &[Column]) -> Self {
        let place = |name: &str| {
            columns
                .iter()
                .position(|column| column.name == name)
                .unwrap_or(0)
        };
        let slot = |slot: usize, name: &str| place(&format!("w{slot}_{name}"));
        Self {
            dates: [
                "vis_date",
                "next_appt",
                "w1_onset",
                "ev1_date",
                "first_contact",
            ]
            .map(place)
            .to_vec(),
            codes: [
                "w1_tissue",
                "w1_inf",
                "w1_gang",
                "w1_state",
                "l_mono",
                "r_wave",
                "setting",
            ]
            .map(place)
            .to_vec(),
            values: vec![
                (place("w1_len"), "4000"),
                (place("hba1c"), "620"),
                (place("l_toe"), "910"),
                (place("r_abi"), "10.4"),
                (place("w1_dep"), "-3"),
            ],
            slots: (1..=N_ULCER_SLOTS)
                .map(|number| Slot {
                    side: slot(number, "side"),
                    onset: slot(number, "onset"),
                    length: slot(number, "len"),
                    width: slot(number, "wid"),
                })
                .collect(),
            visit_date: place("vis_date"),
        }
    }
}

/// A cell as the typist left it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Spoilt {
    pub(crate) position: usize,
    pub(crate) mistake: Mistake,
    pub(crate) cell: String,
}

/// The mistakes made in one row, at most one in a cell.
pub(crate) fn mistakes(
    row: &StringRecord,
    places: &Places,
    typing: &Typing,
    chance: &mut Chance,
) -> Vec<Spoilt> {
    let mut spoilt: Vec<Spoilt> = Vec::new();
    let mut make = |position: usize, mistake: Mistake, cell: String| {
        if !spoilt.iter().any(|earlier| earlier.position == position) {
            spoilt.push(Spoilt {
                position,
                mistake,
                cell,
            });
        }
    };
    let cell = |position: usize| row.get(position).unwrap_or_default();
    if chance.happens(typing.wrong_unit) {
        let lengths = places
            .slots
            .iter()
            .flat_map(|slot| [slot.length, slot.width]);
        for position in lengths {
            if let Ok(length_mm) = cell(position).parse::<f64>() {
                make(position, Mistake::WrongUnit, (length_mm / 10.0).to_string());
            }
        }
    }
    if chance.happens(typing.onset_after_visit) {
        let mut onsets = places.slots.iter().map(|slot| slot.onset);
        let onset = onsets.find(|position| !cell(*position).is_empty());
        let later = a_year_later(cell(places.visit_date));
        if let (Some(position), Some(later)) = (onset, later) {
            make(position, Mistake::OnsetAfterVisit, later);
        }
    }
    if chance.happens(typing.impossible_date) {
        let swapped = from_anywhere(&places.dates, chance)
            .find_map(|position| Some((*position, swapped_date(cell(*position))?)));
        if let Some((position, swapped)) = swapped {
            make(position, Mistake::ImpossibleDate, swapped);
        }
    }
    if chance.happens(typing.unknown_code) {
        let is_missing = |text: &str| {
            let spellings = &typing.missing_spellings;
            text.is_empty() || spellings.iter().any(|spelling| spelling == text)
        };
        let code =
            from_anywhere(&places.codes, chance).find(|position| !is_missing(cell(**position)));
        if let Some(position) = code {
            make(*position, Mistake::UnknownCode, "ZZ".to_owned());
        }
    }
    if chance.happens(typing.wrong_side) {
        let mut sides = places.slots.iter().map(|slot| slot.side);
        if let Some(position) = sides.find(|position| !cell(*position).is_empty()) {
            let other = if cell(position) == "L" { "R" } else { "L" };
            make(position, Mistake::WrongSide, other.to_owned());
        }
    }
    if chance.happens(typing.impossible_value) {
        let value = from_anywhere(&places.values, chance)
            .find(|(position, _)| cell(*position).parse::<f64>().is_ok());
        if let Some((position, value)) = value {
            make(*position, Mistake::ImpossibleValue, (*value).to_owned());
        }
    }
    spoilt
}

/// All of a list once, from anywhere in it and round its end.
fn from_anywhere<'l, T>(
    all: &'l [T],
    chance: &mut Chance,
) -> impl Iterator<Item = &'l T> + use<'l, T> {
    let n = i32::try_from(all.len()).unwrap_or(1);
    let start = chance.whole(1, n).unsigned_abs() as usize;
    all.iter().cycle().skip(start).take(all.len())
}

/// The row with its spoilt cells in place.
pub(crate) fn mistyped(row: &StringRecord, spoilt: &[Spoilt]) -> StringRecord {
    row.iter()
        .enumerate()
        .map(|(position, cell)| {
            let mistake = spoilt.iter().find(|spoilt| spoilt.position == position);
            mistake.map_or(cell, |spoilt| spoilt.cell.as_str())
        })
        .collect()
}

/// The same day and month of the next year, where there is one.
fn a_year_later(date: &str) -> Option<String> {
    let (day_and_month, year) = date.rsplit_once('/')?;
    let year: i32 = year.parse().ok()?;
    (day_and_month != "29/02").then(|| format!("{day_and_month}/{}", year + 1))
}

/// Day and month swapped, where that gives no date.
fn swapped_date(date: &str) -> Option<String> {
    let mut parts = date.split('/');
    let (day, month, year) = (parts.next()?, parts.next()?, parts.next()?);
    (day.parse::<u32>().ok()? > 12).then(|| format!("{month}/{day}/{year}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_date_that_becomes_impossible_is_swapped() {
        assert_eq!(swapped_date("25/03/2024").as_deref(), Some("03/25/2024"));
        assert_eq!(swapped_date("12/03/2024"), None);
        assert_eq!(swapped_date(""), None);
        assert_eq!(swapped_date("unk"), None);
    }
}
