//! The area of a wound, by one method for an episode.

use super::area_change::ellipse_perimeter_cm;
use crate::rules::AreaFormula;
use crate::tables::{UlcerObservation, as_written};
use std::f64::consts::FRAC_PI_4;

/// How the areas of one episode are made. Methods are never mixed within an episode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AreaMethod {
    /// From length and width.
    FromLengths(AreaFormula),
    /// As traced or photographed.
    Traced,
}

/// The method for an episode, from the rows of its first day: from lengths where both are recorded,
/// otherwise as traced. `None` when neither is there.
pub fn area_method(first_day: &[&UlcerObservation], formula: AreaFormula) -> Option<AreaMethod> {
    if first_day
        .iter()
        .any(|row| row.length_cm.is_some() && row.width_cm.is_some())
    {
        Some(AreaMethod::FromLengths(formula))
    } else if first_day.iter().any(|row| row.area_cm2.is_some()) {
        Some(AreaMethod::Traced)
    } else {
        None
    }
}

/// Area in square cm of one row by one method; `None` when the method's items are missing.
///
/// Rectangle: length x width. Ellipse: pi/4 x length x width (plane geometry).
pub fn area_cm2(row: &UlcerObservation, method: AreaMethod) -> Option<f64> {
    match method {
        AreaMethod::Traced => row.area_cm2.map(as_written),
        AreaMethod::FromLengths(formula) => {
            let (length_cm, width_cm) = (as_written(row.length_cm?), as_written(row.width_cm?));
            Some(area_from_lengths_cm2(length_cm, width_cm, formula))
        }
    }
}

/// Perimeter in cm of one row: of the ellipse or rectangle with that length and width. `None` for a traced area, whose
/// outline is not in the rows.
pub fn perimeter_cm(row: &UlcerObservation, method: AreaMethod) -> Option<f64> {
    let AreaMethod::FromLengths(formula) = method else {
        return None;
    };
    let (length_cm, width_cm) = (as_written(row.length_cm?), as_written(row.width_cm?));
    Some(match formula {
        AreaFormula::Rectangle => 2.0 * (length_cm + width_cm),
        AreaFormula::Ellipse => ellipse_perimeter_cm(length_cm, width_cm),
    })
}

/// Area in square cm from the greatest length and the width at a right angle to it.
///
/// Rectangle: length x width. Ellipse: pi/4 x length x width, 21.5% less (plane geometry). Which of them was used
/// belongs beside the figure; within an episode they are never mixed.
pub fn area_from_lengths_cm2(length_cm: f64, width_cm: f64, formula: AreaFormula) -> f64 {
    match formula {
        AreaFormula::Rectangle => length_cm * width_cm,
        AreaFormula::Ellipse => FRAC_PI_4 * length_cm * width_cm,
    }
}
