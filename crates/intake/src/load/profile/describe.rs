//! What each column of a file is read for.

use crate::dates::DateForm;
use crate::fields::Kind;
use crate::layout::Cell;
use crate::load::bind::{Bound, BoundCell, BoundPlan};

/// A column and what it is read for.
pub(super) struct Described<'l> {
    /// The field it fills first, as `foot_exam.abi`; empty when it is not read.
    pub(super) field: String,
    pub(super) unit: &'static str,
    pub(super) what: What<'l>,
}

/// What the cells of a column are.
pub(super) enum What<'l> {
    /// Of no use, by the layout.
    Ignored,
    /// Not known to the layout.
    Unmapped,
    /// Text of which only the presence counts.
    Text,
    Number,
    Date(DateForm),
    /// Codes, in the spelling of the export.
    Codes(Vec<&'l str>),
}

/// One entry a column, in file order.
pub(super) fn describe<'l>(plan: &BoundPlan<'l>, ignored: &[bool]) -> Vec<Described<'l>> {
    let mut columns: Vec<Described<'l>> = plan
        .headers
        .iter()
        .enumerate()
        .map(|(position, _)| Described {
            field: String::new(),
            unit: "",
            what: match ignored.get(position) {
                Some(true) => What::Ignored,
                _ => What::Unmapped,
            },
        })
        .collect();
    let mut put = |position: Option<usize>, field: String, unit, what| {
        let column = position.and_then(|position| columns.get_mut(position));
        if let Some(column) = column.filter(|column| matches!(column.what, What::Unmapped)) {
            *column = Described { field, unit, what };
        }
    };
    if let Some(id) = &plan.patient_id {
        put(id.position, "patient.id".to_owned(), "", What::Text);
    }
    if let Some(date) = &plan.date {
        let what = What::Date(date.dates);
        put(date.position, "visit.date".to_owned(), "", what);
    }
    if let Some(attendance) = &plan.attendance {
        let codes = attendance.codes.codes.iter().map(|(code, _)| code.as_str());
        let what = What::Codes(codes.collect());
        put(Some(attendance.position), "attendance".to_owned(), "", what);
    }
    for stratum in &plan.strata {
        let what = text_or_codes(&stratum.cell);
        put(stratum.cell.position, "strata".to_owned(), "", what);
    }
    let mut all = |section: &str, fields: Vec<FieldColumn<'l>>| {
        for field in fields {
            let name = format!("{section}.{}", field.name);
            put(field.position, name, field.unit, field.what);
        }
    };
    all("patient", columns_of(&plan.patient));
    all("visit", columns_of(&plan.visit));
    for block in &plan.exams {
        all("foot_exam", columns_of(&block.fields));
    }
    for slot in &plan.ulcers {
        all("ulcer", columns_of(slot));
    }
    for slot in &plan.events {
        all("event", columns_of(slot));
    }
    columns
}

struct FieldColumn<'l> {
    name: &'static str,
    position: Option<usize>,
    unit: &'static str,
    what: What<'l>,
}

fn columns_of<'l, R>(fields: &[Bound<'l, R>]) -> Vec<FieldColumn<'l>> {
    fields
        .iter()
        .map(|bound| FieldColumn {
            name: bound.field.name,
            position: bound.cell.position,
            unit: match &bound.field.kind {
                Kind::Number(..) if bound.cell.cell.unit_told.is_some() => "",
                Kind::Number(quantity, _) => {
                    let unit = bound.cell.cell.unit.or(quantity.units().first().copied());
                    unit.map_or("", |unit| unit.code())
                }
                _ => "",
            },
            what: match &bound.field.kind {
                Kind::Number(..) => What::Number,
                Kind::Date(_) | Kind::PartialDate(_) => What::Date(bound.cell.dates),
                Kind::Name(_) => text_or_codes(&bound.cell),
                Kind::Year(_) | Kind::BirthYear(_) | Kind::Published(..) => What::Text,
                Kind::Flag(_) | Kind::Code(..) => match codes_of(bound.cell.cell) {
                    Some(codes) => What::Codes(codes),
                    None => What::Codes(
                        (bound.field.kind.codes()).map_or(Vec::new(), |codes| (codes.spellings)()),
                    ),
                },
            },
        })
        .collect()
}

fn text_or_codes<'l>(bound: &BoundCell<'l>) -> What<'l> {
    codes_of(bound.cell).map_or(What::Text, What::Codes)
}

fn codes_of(cell: &Cell) -> Option<Vec<&str>> {
    let list = cell.codes.as_ref()?;
    Some(list.codes.iter().map(|pair| pair.theirs.as_str()).collect())
}
