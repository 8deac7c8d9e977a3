//! Mistakes of the typist, made last and listed one by one.

use super::cells::Cells;
use super::columns::{Column, N_ULCER_SLOTS};
use crate::chance::Chance;
use crate::scenario::Typing;
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

/// Makes the mistakes of one row; gives the position of each spoilt cell and what is wrong with it.
pub(crate) fn spoil(
    cells: &mut Cells,
    places: &Places,
    typing: &Typing,
    chance: &mut Chance,
) -> Vec<(usize, Mistake)> {
    let row = &mut cells.cells;
    let mut spoilt = Vec::new();
    if chance.happens(typing.wrong_unit) {
        for slot in &places.slots {
            for position in [slot.length, slot.width] {
                if let Ok(length_mm) = row[position].parse::<f64>() {
                    row[position] = (length_mm / 10.0).to_string();
                    spoilt.push((position, Mistake::WrongUnit));
                }
            }
        }
    }
    if chance.happens(typing.onset_after_visit) {
        let visit_date = row[places.visit_date].clone();
        let onset = places
            .slots
            .iter()
            .map(|slot| slot.onset)
            .find(|position| !row[*position].is_empty());
        // The typist takes the year of the next: same day and month, a year later.
        if let (Some(position), Some((day_and_month, Ok(year)))) = (
            onset,
            visit_date
                .rsplit_once('/')
                .map(|(front, year)| (front, year.parse::<i32>())),
        ) && day_and_month != "29/02"
        {
            row[position] = format!("{day_and_month}/{}", year + 1);
            spoilt.push((position, Mistake::OnsetAfterVisit));
        }
    }
    if chance.happens(typing.impossible_date) {
        let start = chance.whole(0, 4).unsigned_abs() as usize;
        let candidates = places
            .dates
            .iter()
            .cycle()
            .skip(start)
            .take(places.dates.len());
        if let Some((position, swapped)) = candidates
            .filter_map(|p| Some((*p, swapped_date(&row[*p])?)))
            .next()
            && !spoilt.iter().any(|(taken, _)| *taken == position)
        {
            row[position] = swapped;
            spoilt.push((position, Mistake::ImpossibleDate));
        }
    }
    if chance.happens(typing.unknown_code) {
        let start = chance.whole(0, 6).unsigned_abs() as usize;
        let mut candidates = places
            .codes
            .iter()
            .cycle()
            .skip(start)
            .take(places.codes.len());
        let is_code = |cell: &str| {
            cell.chars().all(|c| c.is_ascii_alphanumeric()) && !cell.is_empty() && cell != "unk"
        };
        if let Some(position) = candidates.find(|position| is_code(&row[**position])) {
            row[*position] = "ZZ".to_owned();
            spoilt.push((*position, Mistake::UnknownCode));
        }
    }
    if chance.happens(typing.wrong_side) {
        let side = places
            .slots
            .iter()
            .map(|slot| slot.side)
            .find(|position| !row[*position].is_empty());
        if let Some(position) = side {
            row[position] = if row[position] == "L" { "R" } else { "L" }.to_owned();
            spoilt.push((position, Mistake::WrongSide));
        }
    }
    if chance.happens(typing.impossible_value) {
        let start = chance.whole(0, 4).unsigned_abs() as usize;
        let mut candidates = places
            .values
            .iter()
            .cycle()
            .skip(start)
            .take(places.values.len());
        let is_free = |position: usize| !spoilt.iter().any(|(taken, _)| *taken == position);
        if let Some((position, value)) = candidates
            .find(|(position, _)| row[*position].parse::<f64>().is_ok() && is_free(*position))
        {
            row[*position] = (*value).to_owned();
            spoilt.push((*position, Mistake::ImpossibleValue));
        }
    }
    spoilt
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
