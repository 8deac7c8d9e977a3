//! Rows that several resources fill together: an attendance, a foot and a lesion on a day.

use super::super::cells::CellFault;
use super::part::{Answer, Item, fault, ignored, noticed};
use crate::dates::WrittenDate;
use crate::fields::{Field, Kind, OVER_90};
use crate::quantity::{Quantity, Unit};
use chrono::Datelike;
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{DatePrecision, Names, SourceRow};

/// The answers of one row, a field once.
#[derive(Debug, Default)]
pub(super) struct Answers {
    /// In the order of our fields: later ones may refine earlier ones.
    items: Vec<(Item, SourceRow)>,
}

impl Answers {
    /// Adds an answer. The first stands; a later one that differs is noted.
    pub(super) fn add(&mut self, item: Item, source: SourceRow, findings: &mut Vec<Finding>) {
        let place = self
            .items
            .binary_search_by_key(&item.field, |(known, _)| known.field);
        match place {
            Err(place) => self.items.insert(place, (item, source)),
            Ok(place) => {
                let is_same = self
                    .items
                    .get(place)
                    .is_some_and(|(known, _)| known.value == item.value);
                if !is_same {
                    let mut fault = fault(
                        "contradicting-observation",
                        "two observations of one day disagree; the first stands",
                    );
                    fault.hint = Some("correct one of them in the records".to_owned());
                    findings.push(noticed(fault, Severity::Note, item.element, source));
                }
            }
        }
    }

    /// Fills a draft with the answers to fields of its table.
    pub(super) fn fill<R: 'static>(
        &self,
        draft: &mut R,
        field_of: impl Fn(usize) -> Option<&'static Field<R>>,
        names: &mut Names,
        findings: &mut Vec<Finding>,
    ) {
        for (item, source) in &self.items {
            let Some(field) = field_of(item.field) else {
                continue;
            };
            if let Err(fault) = put(draft, &field.kind, &item.value, names) {
                findings.push(ignored(fault, item.element, *source));
            }
        }
    }
}

/// Puts an answer where it belongs, or says why it counts as missing.
pub(super) fn put<R>(
    draft: &mut R,
    kind: &Kind<R>,
    answer: &Answer,
    names: &mut Names,
) -> Result<(), CellFault> {
    match (kind, answer) {
        (Kind::Name(set), Answer::Word(word)) => set(draft, names.intern(word)),
        (Kind::Date(set), Answer::Date(date)) if date.precision == DatePrecision::Day => {
            set(draft, date.date);
        }
        (Kind::Date(_), Answer::Date(_)) => {
            return Err(fault(
                "date-without-day",
                "the date names no day; the answer counts as missing",
            ));
        }
        (Kind::PartialDate(set), Answer::Date(date)) => set(draft, *date),
        (Kind::Number(quantity, set), Answer::Number(value, unit)) => {
            set(draft, ours(*value, *unit, *quantity)?);
        }
        (Kind::Year(set), Answer::Date(date)) => set(draft, date.date.year()),
        (Kind::BirthYear(set), Answer::Word(word)) if word == OVER_90 => set(draft, None),
        (Kind::BirthYear(set), Answer::Date(WrittenDate { date, precision }))
            if *precision == DatePrecision::Year =>
        {
            set(draft, Some(date.year()));
        }
        (Kind::Flag(set), Answer::Flag(is_true)) => set(draft, *is_true),
        (Kind::Flag(set), Answer::Word(word)) if word == "yes" || word == "no" => {
            set(draft, word == "yes");
        }
        (Kind::Code(codes, set), Answer::Word(word)) if (codes.is_known)(word) => set(draft, word),
        _ => {
            return Err(fault(
                "answer-of-another-kind",
                "an answer of a type that the field does not take; it counts as missing",
            ));
        }
    }
    Ok(())
}

/// A number in our unit. A number without a unit is read only where none is needed.
fn ours(value: f64, unit: Option<Unit>, quantity: Quantity) -> Result<f32, CellFault> {
    let is_pure = matches!(quantity, Quantity::PressureIndex | Quantity::ShoeSize);
    let value = match unit {
        None if is_pure => value,
        Some(unit) if quantity.units().contains(&unit) => unit.to_ours(value),
        _ => {
            return Err(fault(
                "unknown-unit",
                "a unit that the field cannot be in, or none; the answer counts as missing",
            ));
        }
    };
    if !quantity.is_credible(value) {
        let fault = fault(
            "value-out-of-range",
            "a value that cannot be true; the answer counts as missing",
        );
        return Err(CellFault {
            hint: Some(format!("possible: {}", quantity.limits())),
            ..fault
        });
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "credible values are small; tables keep single precision"
    )]
    Ok(value as f32)
}
