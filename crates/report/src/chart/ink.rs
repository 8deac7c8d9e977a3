//! What marks are made of; their colours are the style sheet's.

use plotters::style::Color;
use plotters_backend::BackendColor;

/// What a mark is made of. The style sheet gives each ink its colour, width and dash, so one drawing
/// serves light, dark and print.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Words that must be read.
    Text,
    /// Words of second rank: ticks, notes.
    Quiet,
    /// Axis lines.
    Axis,
    /// Grid lines.
    Grid,
    /// Vertical marks and published figures.
    Mark,
    /// Curve or point of the series with this number.
    Series(u8),
    /// Its uncertainty.
    Band(u8),
    /// Its label.
    Label(u8),
    /// Stacked layer with this number, from the bottom up.
    Layer(u8),
    /// Words on that layer.
    OnLayer(u8),
    /// A place where a value is absent.
    Absent,
    /// A limit that chance alone would seldom pass.
    Limit,
    /// A ring around a point that gave a signal.
    Signal,
    /// One of very many lines.
    Faint,
    /// An edge that is not known exactly.
    Edge,
    /// Paper under such an edge, so that it is seen on any layer.
    Halo,
    /// A small mark without filling.
    Ring,
    /// A small mark of lines in the colour of the series with this number.
    Thin(u8),
    /// People going from one class to another; the number is the class they came from.
    Flow(u8),
}

/// Curves that can be told apart; further ones repeat the last.
pub(crate) const N_SERIES: u8 = 4;
/// Layers that can be told apart; further ones repeat the last.
pub(crate) const N_LAYERS: u8 = 8;

impl Ink {
    /// The ink of the curve at this place in drawing order.
    pub(crate) fn series(place: usize) -> u8 {
        u8::try_from(place).unwrap_or(N_SERIES).min(N_SERIES - 1)
    }

    /// The ink of the layer at this place, from the bottom up.
    pub(crate) fn layer(place: usize) -> u8 {
        u8::try_from(place).unwrap_or(N_LAYERS).min(N_LAYERS - 1)
    }

    /// Class name in the style sheet.
    pub(crate) fn class(color: BackendColor) -> String {
        let (kind, number, _) = color.rgb;
        match kind {
            0 => "text".to_owned(),
            1 => "quiet".to_owned(),
            2 => "axis".to_owned(),
            3 => "grid".to_owned(),
            4 => "mark".to_owned(),
            5 => format!("series-{number}"),
            6 => format!("band-{number}"),
            7 => format!("label-{number}"),
            8 => format!("layer-{number}"),
            9 => format!("on-layer-{number}"),
            11 => "limit".to_owned(),
            12 => "signal".to_owned(),
            13 => "faint".to_owned(),
            14 => format!("flow-{number}"),
            15 => "edge".to_owned(),
            16 => "ring".to_owned(),
            17 => format!("thin-{number}"),
            18 => "halo".to_owned(),
            _ => "absent".to_owned(),
        }
    }
}

/// plotters carries inks as colours: the red part names the kind, the green part the number.
impl Color for Ink {
    fn to_backend_color(&self) -> BackendColor {
        let (kind, number) = match *self {
            Self::Text => (0, 0),
            Self::Quiet => (1, 0),
            Self::Axis => (2, 0),
            Self::Grid => (3, 0),
            Self::Mark => (4, 0),
            Self::Series(number) => (5, number),
            Self::Band(number) => (6, number),
            Self::Label(number) => (7, number),
            Self::Layer(number) => (8, number),
            Self::OnLayer(number) => (9, number),
            Self::Absent => (10, 0),
            Self::Limit => (11, 0),
            Self::Signal => (12, 0),
            Self::Faint => (13, 0),
            Self::Flow(number) => (14, number),
            Self::Edge => (15, 0),
            Self::Ring => (16, 0),
            Self::Thin(number) => (17, number),
            Self::Halo => (18, 0),
        };
        BackendColor {
            alpha: 1.0,
            rgb: (kind, number, 0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_ink_has_a_class_of_its_own() {
        let mut inks = vec![
            Ink::Text,
            Ink::Quiet,
            Ink::Axis,
            Ink::Grid,
            Ink::Mark,
            Ink::Absent,
            Ink::Limit,
            Ink::Signal,
            Ink::Faint,
            Ink::Edge,
            Ink::Ring,
            Ink::Halo,
        ];
        inks.extend(
            (0..N_SERIES).flat_map(|n| [Ink::Series(n), Ink::Band(n), Ink::Label(n), Ink::Thin(n)]),
        );
        inks.extend((0..N_LAYERS).flat_map(|n| [Ink::Layer(n), Ink::OnLayer(n), Ink::Flow(n)]));
        let classes: std::collections::BTreeSet<_> = inks
            .iter()
            .map(|ink| Ink::class(ink.to_backend_color()))
            .collect();
        assert_eq!(classes.len(), inks.len());
    }
}
