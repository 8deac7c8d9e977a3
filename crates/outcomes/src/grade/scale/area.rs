//! The scale of areas, on a plain table.

use super::graded::because;
use super::item::{Item, ItemKind, same};
use super::items::{AREA, LENGTH, WIDTH};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{AreaMethod, area_from_lengths_cm2};
use crate::rules::AreaFormula;
use std::collections::BTreeMap;

pub(super) const ULCER: Item = Item {
    name: "ulcer",
    words: "id of the ulcer; rows of one ulcer belong together",
    kind: ItemKind::Label,
    also: &[same("ulcer_id"), same("wound_id"), same("episode")],
};

pub(super) const PATIENT: Item = Item {
    name: "patient",
    words: "pseudonymous id of the person; ulcers of different people never belong together",
    kind: ItemKind::Label,
    also: &[same("patient_id"), same("person")],
};

pub(super) const DAY: Item = Item {
    name: "day",
    words: "day of the visit",
    kind: ItemKind::Day,
    also: &[same("date"), same("visit_date")],
};

pub(super) const SCALE: Scale = Scale {
    id: "area",
    also: &["wound-area"],
    title: "Area of a wound",
    words: "area in square cm, by one method for all rows of an ulcer",
    rules: &[
        "Ellipse (default): pi/4 x length x width. Rectangle: length x width. 3 x 2 cm is 4.7124 or 6 square cm.",
        "The first row of an ulcer decides its method: length and width where both are recorded, else the traced area. Methods are never mixed within an ulcer: a row without the items of its method has no area.",
        "A row without an ulcer id stands by itself. The first row is the one with the earliest day, or the first in the file where no day is recorded.",
    ],
    items: &[PATIENT, ULCER, DAY, LENGTH, WIDTH, AREA],
    columns: &[
        ColumnWords {
            name: "area_method",
            words: "ellipse, rectangle or traced",
        },
        ColumnWords {
            name: "rectangle_cm2",
            words: "length x width, square cm",
        },
        ColumnWords {
            name: "ellipse_cm2",
            words: "pi/4 x length x width, square cm",
        },
    ],
    source: "plane geometry; length x width overstates traced areas by about 41% (Rogers et al., J Diabetes Sci Technol 2010;4:799)",
    caution: "Two observers differ by 10 to 20%; area after debridement is the convention. Depth and undermining are not in it.",
    method: ScaleMethod::Table(grade),
};

/// Positions of the rows of each ulcer, earliest first; a row without an ulcer id stands alone.
pub(super) fn by_ulcer(rows: &[Answers<'_>]) -> Vec<Vec<usize>> {
    let mut named: BTreeMap<(Option<&str>, &str), Vec<usize>> = BTreeMap::new();
    let mut groups = Vec::new();
    for (position, row) in rows.iter().enumerate() {
        match row.label("ulcer") {
            Some(ulcer) => named
                .entry((row.label("patient"), ulcer))
                .or_default()
                .push(position),
            None => groups.push(vec![position]),
        }
    }
    for (_, mut positions) in named {
        // A row without a day stays where it stands in the file, before those that have one.
        positions.sort_by_key(|position| rows.get(*position).and_then(|row| row.day("day")));
        groups.push(positions);
    }
    groups
}

fn lengths(row: &Answers<'_>) -> Option<(f64, f64)> {
    Some((row.number("length_cm")?, row.number("width_cm")?))
}

/// The method of an ulcer by its first row.
pub(super) fn method_of(first: &Answers<'_>, formula: AreaFormula) -> Option<AreaMethod> {
    if lengths(first).is_some() {
        Some(AreaMethod::FromLengths(formula))
    } else {
        first.number("area_cm2").map(|_| AreaMethod::Traced)
    }
}

/// Area of one row by one method.
pub(super) fn area_by(row: &Answers<'_>, method: AreaMethod) -> Option<f64> {
    match method {
        AreaMethod::Traced => row.number("area_cm2"),
        AreaMethod::FromLengths(formula) => {
            lengths(row).map(|(length, width)| area_from_lengths_cm2(length, width, formula))
        }
    }
}

/// Method in one word.
pub(super) fn method_word(method: AreaMethod) -> &'static str {
    match method {
        AreaMethod::Traced => "traced",
        AreaMethod::FromLengths(formula) => formula.code(),
    }
}

/// The method of each row's ulcer, in the order of the rows.
pub(super) fn methods(rows: &[Answers<'_>], formula: AreaFormula) -> Vec<Option<AreaMethod>> {
    let mut methods = vec![None; rows.len()];
    for positions in by_ulcer(rows) {
        let first = positions.first().and_then(|first| rows.get(*first));
        let method = first.and_then(|first| method_of(first, formula));
        for position in positions {
            if let Some(of_row) = methods.get_mut(position) {
                *of_row = method;
            }
        }
    }
    methods
}

fn grade(rows: &[Answers<'_>], options: &GradeOptions) -> Vec<Graded> {
    let methods = methods(rows, options.area_formula);
    rows.iter()
        .zip(methods)
        .map(|(row, method)| {
            let area = method.and_then(|method| area_by(row, method));
            let by = |formula| {
                Cell::number(lengths(row).map(|(l, w)| area_from_lengths_cm2(l, w, formula)))
            };
            let why = match (method, area) {
                (Some(method), Some(_)) => format!("by {}", method_word(method)),
                (Some(method), None) => format!(
                    "the ulcer is measured by {}, and this row lacks its items; methods are not mixed",
                    method_word(method)
                ),
                (None, _) => "the first row of the ulcer has neither length and width nor an area".to_owned(),
            };
            let more = vec![
                method.map_or(Cell::Empty, |method| Cell::text(method_word(method))),
                by(AreaFormula::Rectangle),
                by(AreaFormula::Ellipse),
            ];
            Graded::measured(area, more, because(&[why]))
        })
        .collect()
}
