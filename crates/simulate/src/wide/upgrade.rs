//! The wide export of a practice that changed its records system: the same visits under other headers, with other codes,
//! units, dates and delimiter from one day on.

use super::columns::{Column, DATE, YES_NO};
use csv::StringRecord;

/// How the new system writes a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Change {
    Nothing,
    /// `2025-11-03` for `03/11/2025`.
    Date,
    /// Other codes: (old, new).
    Codes(&'static [(&'static str, &'static str)]),
    /// Centimetres for millimetres.
    Centimetres,
}

const ANSWERS: &[(&str, &str)] = &[("Y", "1"), ("N", "0")];
const SIDES: &[(&str, &str)] = &[("L", "LT"), ("R", "RT")];
const STATES: &[(&str, &str)] = &[("P", "PRE"), ("O", "OPN"), ("C", "SHUT"), ("X", "CUT")];
const ATTENDANCE: &[(&str, &str)] = &[
    ("ATT", "CAME"),
    ("DNA", "NOSHOW"),
    ("CNX", "OFF"),
    ("ADM", "LETTER"),
];

/// Delimiter of the new system.
pub(crate) const DELIMITER: u8 = b';';

/// The new system's way of writing each column.
pub(crate) struct NewSystem {
    changes: Vec<Change>,
    headers: Vec<String>,
}

impl NewSystem {
    pub(crate) fn of(columns: &[Column]) -> Self {
        Self {
            changes: columns.iter().map(change).collect(),
            headers: columns.iter().map(|column| header(&column.name)).collect(),
        }
    }

    pub(crate) fn headers(&self) -> &[String] {
        &self.headers
    }

    /// A row of the old system as the new one writes it; what the old one could not mean stays as it is.
    pub(crate) fn rewrite(&self, row: &StringRecord) -> StringRecord {
        let cells = row.iter().zip(&self.changes);
        cells
            .map(|(cell, change)| rewritten(cell, *change))
            .collect()
    }
}

fn change(column: &Column) -> Change {
    let name = column.name.as_str();
    let ends_with = |ends: &[&str]| ends.iter().any(|end| name.ends_with(end));
    if column.coding == DATE {
        Change::Date
    } else if column.coding == YES_NO {
        Change::Codes(ANSWERS)
    } else if name == "attend" {
        Change::Codes(ATTENDANCE)
    } else if ends_with(&["_state"]) {
        Change::Codes(STATES)
    } else if ends_with(&["_side"]) {
        Change::Codes(SIDES)
    } else if name.starts_with('w') && ends_with(&["_len", "_wid", "_dep"]) {
        Change::Centimetres
    } else {
        Change::Nothing
    }
}

/// Header in the new system.
fn header(old: &str) -> String {
    let ulcer = |slot: &str, part: &str| match part {
        "len" => Some(format!("wound{slot}_length_cm")),
        "wid" => Some(format!("wound{slot}_width_cm")),
        "dep" => Some(format!("wound{slot}_depth_cm")),
        "state" => Some(format!("wound{slot}_status")),
        _ => None,
    };
    let renamed = old
        .strip_prefix('w')
        .and_then(|rest| rest.split_once('_'))
        .and_then(|(slot, part)| ulcer(slot, part));
    renamed.unwrap_or_else(|| match old {
        "pat_ref" => "person_key".to_owned(),
        "vis_date" => "seen_on".to_owned(),
        "attend" => "appointment".to_owned(),
        "next_appt" => "return_on".to_owned(),
        other => other.to_owned(),
    })
}

fn rewritten(cell: &str, change: Change) -> String {
    let other = match change {
        Change::Nothing => None,
        Change::Date => in_iso_order(cell),
        Change::Codes(codes) => codes
            .iter()
            .find(|(old, _)| *old == cell)
            .map(|(_, new)| (*new).to_owned()),
        Change::Centimetres => cell.parse::<f64>().ok().map(|mm| (mm / 10.0).to_string()),
    };
    other.unwrap_or_else(|| cell.to_owned())
}

/// A day-first date turned round, even one that is not in the calendar.
fn in_iso_order(cell: &str) -> Option<String> {
    let mut parts = cell.split('/');
    let (day, month, year) = (parts.next()?, parts.next()?, parts.next()?);
    Some(format!("{year}-{month}-{day}"))
}
