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
