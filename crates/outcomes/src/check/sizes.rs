//! Sizes of one ulcer at one visit.

use super::found;
use crate::finding::Finding;
use crate::tables::{Tables, UlcerObservation, UlcerState};
use std::f64::consts::FRAC_PI_4;

const LARGE_CM: f32 = 15.0;
const DEEP_CM: f32 = 3.0;
/// How far a recorded area may lie from one worked out, as a share of the latter.
const AREA_TOLERANCE: f64 = 0.2;
/// Single precision must not decide at a limit.
const ROUNDING: f64 = 1e-5;

/// An open ulcer has a size. A size of nothing counts as missing.
pub(super) fn sizes_of_open_ulcers(tables: &mut Tables, findings: &mut Vec<Finding>) {
    let open = tables
        .ulcer_observations
        .iter_mut()
        .filter(|row| row.state == Some(UlcerState::Open));
    for row in open {
        let mut is_nothing = false;
        for size in [&mut row.length_cm, &mut row.width_cm, &mut row.area_cm2] {
            if size.is_some_and(|value| value <= 0.0) {
                *size = None;
                is_nothing = true;
            }
        }
        if is_nothing {
            findings.push(
                found(
                    "size-zero-while-open",
                    row.source,
                    "the ulcer is open and has a size of nothing; that size counts as missing",
                )
                .with_hint(
                    "if a zero stands for `not measured`, name it under [missing] in the layout",
                ),
            );
        }
    }
}

/// Sizes that are possible and worth a second look.
pub(super) fn check_sizes(tables: &Tables, findings: &mut Vec<Finding>) {
    for row in &tables.ulcer_observations {
        check_row(row, findings);
    }
}

fn check_row(row: &UlcerObservation, findings: &mut Vec<Finding>) {
    let is_above = |size: Option<f32>, limit: f32| size.is_some_and(|size| size > limit);
    let unit = "millimetres and centimetres may be mixed";
    if is_above(row.length_cm, LARGE_CM) || is_above(row.width_cm, LARGE_CM) {
        let message = "the ulcer is longer or wider than 15 cm";
        findings.push(found("unusually-large-ulcer", row.source, message).with_hint(unit));
    }
    if is_above(row.depth_cm, DEEP_CM) {
        let message = "the ulcer is deeper than 3 cm";
        findings.push(found("unusually-deep-ulcer", row.source, message).with_hint(unit));
    }
    if row.state == Some(UlcerState::Closed)
        && [row.length_cm, row.width_cm, row.depth_cm, row.area_cm2]
            .iter()
            .any(|size| is_above(*size, 0.0))
    {
        let message = "the ulcer is recorded as closed and has a size";
        findings.push(
            found("size-on-closed-ulcer", row.source, message)
                .with_hint("an ulcer with a scab, a dressing or drainage is still open"),
        );
    }
    let (Some(length), Some(width)) = (row.length_cm, row.width_cm) else {
        return;
    };
    if width > length {
        let message = "the width is greater than the length";
        findings.push(
            found("width-exceeds-length", row.source, message).with_hint(
                "length is the greatest extent, width the extent at a right angle to it",
            ),
        );
    }
    let product = f64::from(length) * f64::from(width);
    if let Some(area) = row.area_cm2.map(f64::from).filter(|_| product > 0.0) {
        let fits = |expected: f64| (area - expected).abs() <= AREA_TOLERANCE * expected + ROUNDING;
        if !fits(product) && !fits(FRAC_PI_4 * product) {
            let message = "the recorded area fits neither a rectangle nor an ellipse of this length and width";
            findings.push(found("area-does-not-fit-size", row.source, message).with_hint(
                "compare the units of the three columns; an irregular wound may also be traced smaller",
            ));
        }
    }
}
