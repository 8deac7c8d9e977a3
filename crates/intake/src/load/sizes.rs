//! Numbers as people write them into one cell: with their unit behind them, or several parted by `x`.

use super::cells::{CellFault, no_number, number};
use crate::layout::DecimalMark;
use crate::quantity::{Quantity, Unit};

/// A number of a cell, and the unit that the cell itself gives it.
type Measured = (f64, Option<Unit>);

/// What stands between the numbers of one cell: `12 x 8 x 3`.
pub(crate) const BETWEEN: [char; 4] = ['x', 'X', '×', '*'];

/// Reads the number of a cell, or the one at a place of several, counted from 1; `None` where the cell has fewer. A unit behind the
/// last number is that of all numbers without one.
pub(super) fn measured(
    text: &str,
    part: Option<u8>,
    quantity: Quantity,
    decimal: DecimalMark,
) -> Result<Option<Measured>, CellFault> {
    let Some(part) = part else {
        return with_unit(text, "", quantity, decimal).map(Some);
    };
    let parts = || text.split(BETWEEN).map(str::trim);
    let place = usize::from(part).saturating_sub(1);
    let Some(wanted) = parts().nth(place).filter(|wanted| !wanted.is_empty()) else {
        return Ok(None);
    };
    let (_, last_unit) = parts().next_back().map_or(("", ""), parted);
    with_unit(wanted, last_unit, quantity, decimal).map(Some)
}

/// A number, and what stands behind it.
fn parted(text: &str) -> (&str, &str) {
    let is_of_number = |letter: char| letter.is_ascii_digit() || "+-.,".contains(letter);
    let end = text.find(|letter| !is_of_number(letter));
    let (digits, rest) = end
        .and_then(|end| text.split_at_checked(end))
        .unwrap_or((text, ""));
    (digits, rest.trim())
}

fn with_unit(
    text: &str,
    elsewhere: &str,
    quantity: Quantity,
    decimal: DecimalMark,
) -> Result<Measured, CellFault> {
    let (digits, behind) = parted(text);
    let behind = if behind.is_empty() { elsewhere } else { behind };
    if behind.is_empty() {
        let value = number(text, decimal)?;
        return Ok((value, None));
    }
    let unit = Unit::from_written(behind).filter(|unit| quantity.units().contains(unit));
    let Some(unit) = unit else {
        return Err(no_number(text));
    };
    let value = number(digits, decimal)?;
    Ok((value, Some(unit)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, part: Option<u8>) -> Result<Option<(f64, Option<Unit>)>, &'static str> {
        measured(text, part, Quantity::Length, DecimalMark::Point).map_err(|fault| fault.check)
    }

    #[test]
    fn a_number_may_have_its_unit_behind_it() {
        let mm = Some(Unit::Millimetre);
        for (text, expected) in [
            ("12", Ok(Some((12.0, None)))),
            ("12 mm", Ok(Some((12.0, mm)))),
            ("12mm.", Ok(Some((12.0, mm)))),
            ("1.2 CM", Ok(Some((1.2, Some(Unit::Centimetre))))),
            ("12 kPa", Err("unreadable-number")),
            ("about 12", Err("unreadable-number")),
            ("12 mm or so", Err("unreadable-number")),
            ("mm", Err("unreadable-number")),
            ("<5", Err("unreadable-number")),
        ] {
            assert_eq!(read(text, None), expected, "{text}");
        }
    }

    #[test]
    fn of_several_numbers_one_is_asked_for() {
        let cm = Some(Unit::Centimetre);
        for (text, part, expected) in [
            ("12 x 8", 1, Ok(Some((12.0, None)))),
            ("12 x 8", 2, Ok(Some((8.0, None)))),
            ("12 x 8", 3, Ok(None)),
            ("1.2×0.8×0.3 cm", 1, Ok(Some((1.2, cm)))),
            ("1.2×0.8×0.3 cm", 3, Ok(Some((0.3, cm)))),
            (
                "12 mm x 0.8 cm",
                1,
                Ok(Some((12.0, Some(Unit::Millimetre)))),
            ),
            ("12", 2, Ok(None)),
            ("12 x ", 2, Ok(None)),
            ("12 x ?", 2, Err("unreadable-number")),
        ] {
            assert_eq!(read(text, Some(part)), expected, "{text} {part}");
        }
    }
}
