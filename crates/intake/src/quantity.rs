//! Measured quantities: their units, and the hard limits beyond which a cell is not believed.

use outcomes::coded;

/// What a number measures; decides the units a layout may name and the limits of belief.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    /// Length or width of an ulcer, cm.
    Length,
    /// Depth of an ulcer, cm.
    Depth,
    /// Area of an ulcer, square cm.
    Area,
    /// Ankle, brachial or toe systolic pressure, mmHg.
    Pressure,
    /// Transcutaneous oxygen pressure, mmHg.
    OxygenPressure,
    /// Ankle-brachial or toe-brachial index.
    PressureIndex,
    /// HbA1c, percent (NGSP).
    Hba1c,
    /// Shoe size, US.
    ShoeSize,
}

/// A way of writing that is no unit: its name, and how it turns into our unit.
pub(crate) type OtherWriting = (&'static str, fn(f64) -> f64);

coded! {
    /// A unit a column may be in.
    pub enum Unit {
        Centimetre = "cm", Millimetre = "mm", Inch = "in",
        SquareCentimetre = "cm2", SquareMillimetre = "mm2",
        MillimetreOfMercury = "mmHg", Kilopascal = "kPa",
        Ratio = "ratio",
        Percent = "%", MillimolePerMole = "mmol/mol",
        UsSize = "us-size",
    }
}

impl Quantity {
    /// Units this quantity may come in; the first is ours and the default.
    pub(crate) const fn units(self) -> &'static [Unit] {
        match self {
            Self::Length | Self::Depth => &[Unit::Centimetre, Unit::Millimetre, Unit::Inch],
            Self::Area => &[Unit::SquareCentimetre, Unit::SquareMillimetre],
            Self::Pressure | Self::OxygenPressure => &[Unit::MillimetreOfMercury, Unit::Kilopascal],
            Self::PressureIndex => &[Unit::Ratio],
            Self::Hba1c => &[Unit::Percent, Unit::MillimolePerMole],
            Self::ShoeSize => &[Unit::UsSize],
        }
    }

    /// Whether a value in our unit can be true at all.
    ///
    /// Limits: plausibility table of this project (length and width at most 35 cm, depth 0-10 cm, index above 0 to 3,
    /// pressures 0-300 mmHg, oxygen pressure 0-110 mmHg, HbA1c 3-20%). A length of 0 is possible for a closed ulcer
    /// only; that is checked where the state is known. Area is bounded by the greatest length squared.
    /// Shoe sizes 0-25: common practice, no source.
    pub(crate) fn is_credible(self, value: f64) -> bool {
        match self {
            Self::Length => (0.0..=35.0).contains(&value),
            Self::Depth => (0.0..=10.0).contains(&value),
            Self::Area => (0.0..=1225.0).contains(&value),
            Self::Pressure => (0.0..=300.0).contains(&value),
            Self::OxygenPressure => (0.0..=110.0).contains(&value),
            Self::PressureIndex => value > 0.0 && value <= 3.0,
            Self::Hba1c => (3.0..=20.0).contains(&value),
            Self::ShoeSize => (0.0..=25.0).contains(&value),
        }
    }

    /// Between which values the middle of a whole column lies, in our unit. Common practice, no source.
    pub(crate) const fn usual_median(self) -> (f64, f64) {
        match self {
            Self::Length => (0.25, 6.0),
            Self::Depth => (0.05, 2.0),
            Self::Area => (0.1, 25.0),
            Self::Pressure => (30.0, 220.0),
            Self::OxygenPressure => (12.0, 90.0),
            Self::PressureIndex => (0.3, 1.5),
            Self::Hba1c => (5.0, 12.0),
            Self::ShoeSize => (4.0, 16.0),
        }
    }

    /// Ways of writing that no layout can name, and how they turn into our unit. European sizes: about the size less 33;
    /// length of the foot in millimetres: thirds of an inch less 22 (common practice, from memory).
    pub(crate) fn other_writings(self) -> &'static [OtherWriting] {
        match self {
            Self::PressureIndex => &[("percentages", |value| value / 100.0)],
            Self::ShoeSize => &[
                ("European sizes", |value| value - 33.0),
                ("lengths in millimetres", |value| value * 3.0 / 25.4 - 22.0),
            ],
            _ => &[],
        }
    }

    /// The limits in words, for messages.
    pub(crate) const fn limits(self) -> &'static str {
        match self {
            Self::Length => "0 to 35 cm",
            Self::Depth => "0 to 10 cm",
            Self::Area => "0 to 1225 square cm",
            Self::Pressure => "0 to 300 mmHg",
            Self::OxygenPressure => "0 to 110 mmHg",
            Self::PressureIndex => "above 0 and at most 3",
            Self::Hba1c => "3 to 20 % (9 to 195 mmol/mol)",
            Self::ShoeSize => "US sizes 0 to 25",
        }
    }
}

impl Unit {
    /// The unit that people write so, behind a number or in a header.
    pub(crate) fn from_written(written: &str) -> Option<Self> {
        let written = written.to_lowercase().replace(['.', ' '], "");
        Some(match written.as_str() {
            "cm" => Self::Centimetre,
            "mm" => Self::Millimetre,
            "in" | "inch" | "inches" | "\"" => Self::Inch,
            "cm2" | "cm²" | "sqcm" | "qcm" => Self::SquareCentimetre,
            "mm2" | "mm²" | "sqmm" | "qmm" => Self::SquareMillimetre,
            "mmhg" => Self::MillimetreOfMercury,
            "kpa" => Self::Kilopascal,
            "%" | "percent" | "pct" => Self::Percent,
            "mmol/mol" => Self::MillimolePerMole,
            _ => return None,
        })
    }

    /// A value of this unit in ours.
    ///
    /// Inch: 2.54 cm and kilopascal: 7.50062 mmHg, both by definition. HbA1c: NGSP % = 0.09148 x IFCC mmol/mol + 2.152
    /// (NGSP/IFCC master equation, from memory; the same line as mmol/mol / 10.929 + 2.15).
    pub(crate) fn to_ours(self, value: f64) -> f64 {
        match self {
            Self::Centimetre
            | Self::SquareCentimetre
            | Self::MillimetreOfMercury
            | Self::Ratio
            | Self::Percent
            | Self::UsSize => value,
            Self::Millimetre => value / 10.0,
            Self::Inch => value * 2.54,
            Self::SquareMillimetre => value / 100.0,
            Self::Kilopascal => value * 7.500_62,
            Self::MillimolePerMole => value / 10.929 + 2.15,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// HbA1c pairs as printed in diabetes guidelines (48 mmol/mol = 6.5 %, 53 = 7.0 %, 75 = 9.0 %; from memory); inch and
    /// kilopascal by definition (1 inch = 2.54 cm; 133.322 Pa = 1 mmHg).
    #[test]
    fn units_turn_into_ours() {
        for (unit, theirs, ours, tolerance) in [
            (Unit::MillimolePerMole, 48.0, 6.5, 0.05),
            (Unit::MillimolePerMole, 53.0, 7.0, 0.05),
            (Unit::MillimolePerMole, 75.0, 9.0, 0.05),
            (Unit::Millimetre, 12.0, 1.2, 1e-12),
            (Unit::Inch, 1.0, 2.54, 1e-12),
            (Unit::SquareMillimetre, 150.0, 1.5, 1e-12),
            (Unit::Kilopascal, 13.3322, 100.0, 1e-3),
        ] {
            let turned = unit.to_ours(theirs);
            assert!(
                (turned - ours).abs() <= tolerance,
                "{theirs} {unit} gives {turned}"
            );
        }
    }

    #[test]
    fn values_at_their_limits_are_believed_and_beyond_them_not() {
        for (quantity, inside, outside) in [
            (Quantity::Length, [0.0, 35.0], [-0.1, 35.1]),
            (Quantity::Depth, [0.0, 10.0], [-0.1, 10.1]),
            (Quantity::Pressure, [0.0, 300.0], [-1.0, 301.0]),
            (Quantity::OxygenPressure, [0.0, 110.0], [-1.0, 111.0]),
            (Quantity::PressureIndex, [0.01, 3.0], [0.0, 3.01]),
            (Quantity::Hba1c, [3.0, 20.0], [2.9, 20.1]),
        ] {
            assert!(
                inside.iter().all(|value| quantity.is_credible(*value)),
                "{quantity:?}"
            );
            assert!(
                !outside.iter().any(|value| quantity.is_credible(*value)),
                "{quantity:?}"
            );
        }
    }
}
