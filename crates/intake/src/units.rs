//! Whether the numbers of a column look like the unit the layout declares for it.
//!
//! A single number may be unusual; the middle of a whole column is not. Where it is unusual in the declared unit and usual in
//! another, the declaration is probably wrong. Only the declaration is doubted: no number is changed.

use crate::quantity::{Quantity, Unit};
use outcomes::check::Magnitudes;
use outcomes::finding::{Finding, Severity};

/// Fewer numbers have no middle worth judging.
const FEWEST: u64 = 20;

/// The numbers of one file, column by column.
#[derive(Debug, Default)]
pub(crate) struct Numbers {
    columns: Vec<Option<Column>>,
}

#[derive(Debug)]
struct Column {
    quantity: Quantity,
    unit: Unit,
    sizes: Magnitudes,
}

impl Numbers {
    /// Counts a number as it is written in a column.
    pub(crate) fn add(
        &mut self,
        position: usize,
        quantity: Quantity,
        unit: Option<Unit>,
        value: f64,
    ) {
        if self.columns.len() <= position {
            self.columns.resize_with(position + 1, || None);
        }
        let Some(place) = self.columns.get_mut(position) else {
            return;
        };
        let unit = unit.or(quantity.units().first().copied());
        if let (None, Some(unit)) = (&place, unit) {
            *place = Some(Column {
                quantity,
                unit,
                sizes: Magnitudes::default(),
            });
        }
        if let Some(column) = place {
            column.sizes.add(value);
        }
    }

    /// Columns whose numbers do not look like their unit.
    pub(crate) fn findings(&self, file: &str, headers: &[String]) -> Vec<Finding> {
        let columns = self.columns.iter().zip(headers);
        columns
            .filter_map(|(column, header)| Some((column.as_ref()?, header)))
            .filter_map(|(column, header)| finding(column, file, header))
            .collect()
    }
}

fn finding(column: &Column, file: &str, header: &str) -> Option<Finding> {
    let (unit, n) = (column.unit, column.sizes.n());
    let (check, words, hint) = match verdict(column.quantity, unit, &column.sizes)? {
        Doubt::Unit(other) => (
            "unit-suspected",
            format!("and usual for {other}"),
            format!("if the column is in {other}, declare unit = \"{other}\" in the layout"),
        ),
        Doubt::Writing(words) => (
            "unit-suspected",
            format!("and usual for {words}"),
            format!("if the column holds {words}, export it in {unit}"),
        ),
        Doubt::Unexplained => (
            "values-unusual-for-unit",
            "and for every other unit that was tried".to_owned(),
            "look whether the column holds what the layout says".to_owned(),
        ),
    };
    Some(Finding {
        check,
        severity: Severity::Note,
        source: None,
        column: Some(header.to_owned()),
        message: format!(
            "{file}: the middle of its {n} numbers is unusual for the declared unit {unit}, {words}"
        ),
        hint: Some(hint),
        n: 1,
    })
}

/// What is doubtful about the unit of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Doubt {
    /// Another unit that a layout may name fits.
    Unit(Unit),
    /// Another way of writing fits, which no layout can name.
    Writing(&'static str),
    /// Nothing fits.
    Unexplained,
}

/// Whether the middle of a column is unusual in the declared unit, and what else would make it usual.
pub(crate) fn verdict(quantity: Quantity, declared: Unit, sizes: &Magnitudes) -> Option<Doubt> {
    let median = sizes.median().filter(|_| sizes.n() >= FEWEST)?;
    let (lowest, highest) = quantity.usual_median();
    let is_usual = |value: f64| (lowest..=highest).contains(&value);
    if is_usual(declared.to_ours(median)) {
        return None;
    }
    let unit = quantity
        .units()
        .iter()
        .find(|unit| **unit != declared && is_usual(unit.to_ours(median)));
    let writing = || {
        quantity
            .other_writings()
            .iter()
            .find(|(_, to_ours)| is_usual(to_ours(median)))
            .map(|(words, _)| Doubt::Writing(words))
    };
    Some(
        unit.map(|unit| Doubt::Unit(*unit))
            .or_else(writing)
            .unwrap_or(Doubt::Unexplained),
    )
}

/// Units in which the middle of a column of numbers would be usual, ours first.
pub(crate) fn fitting_units(quantity: Quantity, sizes: &Magnitudes) -> Vec<Unit> {
    let (lowest, highest) = quantity.usual_median();
    let Some(median) = sizes.median() else {
        return Vec::new();
    };
    let fits = |unit: &Unit| (lowest..=highest).contains(&unit.to_ours(median));
    quantity.units().iter().copied().filter(fits).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sizes(values: &[f64]) -> Magnitudes {
        let mut sizes = Magnitudes::default();
        for value in values.iter().cycle().take(20) {
            sizes.add(*value);
        }
        sizes
    }

    /// The middle number of each column, what the layout declares, and what is doubted.
    #[test]
    fn a_unit_is_doubted_only_where_its_own_reading_is_unusual() {
        let millimetre = Doubt::Unit(Unit::Millimetre);
        for (quantity, declared, value, expected) in [
            (Quantity::Length, Unit::Centimetre, 35.0, Some(millimetre)),
            (Quantity::Length, Unit::Centimetre, 12.0, Some(millimetre)),
            (Quantity::Length, Unit::Centimetre, 1.8, None),
            (Quantity::Length, Unit::Centimetre, 3.5, None),
            (
                Quantity::Length,
                Unit::Millimetre,
                1.8,
                Some(Doubt::Unit(Unit::Centimetre)),
            ),
            (Quantity::Length, Unit::Millimetre, 18.0, None),
            (Quantity::Length, Unit::Inch, 18.0, Some(millimetre)),
            (Quantity::Depth, Unit::Centimetre, 4.0, Some(millimetre)),
            (
                Quantity::Area,
                Unit::SquareCentimetre,
                150.0,
                Some(Doubt::Unit(Unit::SquareMillimetre)),
            ),
            (
                Quantity::Area,
                Unit::SquareMillimetre,
                1.5,
                Some(Doubt::Unit(Unit::SquareCentimetre)),
            ),
            (
                Quantity::Pressure,
                Unit::MillimetreOfMercury,
                16.0,
                Some(Doubt::Unit(Unit::Kilopascal)),
            ),
            (
                Quantity::Pressure,
                Unit::Kilopascal,
                120.0,
                Some(Doubt::Unit(Unit::MillimetreOfMercury)),
            ),
            (
                Quantity::OxygenPressure,
                Unit::MillimetreOfMercury,
                5.0,
                Some(Doubt::Unit(Unit::Kilopascal)),
            ),
            (
                Quantity::PressureIndex,
                Unit::Ratio,
                85.0,
                Some(Doubt::Writing("percentages")),
            ),
            (Quantity::PressureIndex, Unit::Ratio, 0.85, None),
            (
                Quantity::Hba1c,
                Unit::Percent,
                58.0,
                Some(Doubt::Unit(Unit::MillimolePerMole)),
            ),
            (
                Quantity::Hba1c,
                Unit::MillimolePerMole,
                7.5,
                Some(Doubt::Unit(Unit::Percent)),
            ),
            (
                Quantity::ShoeSize,
                Unit::UsSize,
                42.0,
                Some(Doubt::Writing("European sizes")),
            ),
            (
                Quantity::ShoeSize,
                Unit::UsSize,
                270.0,
                Some(Doubt::Writing("lengths in millimetres")),
            ),
            (
                Quantity::Length,
                Unit::Centimetre,
                4000.0,
                Some(Doubt::Unexplained),
            ),
        ] {
            assert_eq!(
                verdict(quantity, declared, &sizes(&[value])),
                expected,
                "{quantity:?} {declared} {value}"
            );
        }
    }

    #[test]
    fn few_numbers_are_not_judged() {
        let mut few = Magnitudes::default();
        for _ in 0..19 {
            few.add(35.0);
        }
        assert_eq!(verdict(Quantity::Length, Unit::Centimetre, &few), None);
        few.add(35.0);
        assert!(verdict(Quantity::Length, Unit::Centimetre, &few).is_some());
    }
}
