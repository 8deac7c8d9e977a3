//! What a layout can map, in words: for lists, help and the description beside the layouts.

use crate::fields::{
    EVENT_FIELDS, EXAM_FIELDS, Field, Kind, PATIENT_FIELDS, ULCER_FIELDS, VISIT_FIELDS,
};

/// A field that a layout can map, and what its cells must hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldWords {
    /// Section of the layout.
    pub section: &'static str,
    /// Name of the field.
    pub field: &'static str,
    /// What a cell must hold, after the layout's code list and unit.
    pub takes: String,
}

/// Every field that a layout can map, section by section.
pub fn fields() -> Vec<FieldWords> {
    [
        section("patient", PATIENT_FIELDS),
        section("visit", VISIT_FIELDS),
        section("foot_exam", EXAM_FIELDS),
        section("ulcer", ULCER_FIELDS),
        section("event", EVENT_FIELDS),
    ]
    .concat()
}

fn section<R>(section: &'static str, fields: &[Field<R>]) -> Vec<FieldWords> {
    fields
        .iter()
        .map(|field| FieldWords {
            section,
            field: field.name,
            takes: takes(field),
        })
        .collect()
}

fn takes<R>(field: &Field<R>) -> String {
    match &field.kind {
        Kind::Name(_) => "any spelling".to_owned(),
        Kind::Date(_) => "a date".to_owned(),
        Kind::PartialDate(_) => "a date, or a month and year, or a year".to_owned(),
        Kind::Number(quantity, _) => {
            let units: Vec<&str> = quantity.units().iter().map(|unit| unit.code()).collect();
            format!("a number in {}; {}", units.join(" or "), quantity.limits())
        }
        Kind::Year(_) => "a year".to_owned(),
        Kind::BirthYear(_) => "a year, or `90-or-over`".to_owned(),
        Kind::Flag(_) => "`yes` or `no`".to_owned(),
        Kind::Published(system, _) => {
            format!("a code; `limbledger explain {system}` lists those that count")
        }
        Kind::Code(codes, _) if field.name == "site" => {
            format!(
                "region, ray, surface, as `toe-1-plantar`; regions {}",
                quoted(&(codes.spellings)())
            )
        }
        Kind::Code(codes, _) => quoted(&(codes.spellings)()),
    }
}

fn quoted(spellings: &[&str]) -> String {
    let quoted: Vec<String> = spellings
        .iter()
        .map(|spelling| format!("`{spelling}`"))
        .collect();
    quoted.join(", ")
}
