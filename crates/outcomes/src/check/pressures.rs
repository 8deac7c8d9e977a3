//! Pressures and indices of one foot examination.

use super::found;
use crate::finding::Finding;
use crate::tables::{FootExam, Tables};

const STIFF_ABOVE: f32 = 1.4;
const VERY_LOW_BELOW: f32 = 0.2;
/// How far a recorded index may lie from the quotient of its pressures.
const INDEX_TOLERANCE: f64 = 0.02;
/// Single precision must not decide at a limit.
const ROUNDING: f64 = 1e-5;

/// Pressures and indices that do not go together, or are unusual.
pub(super) fn check_exams(tables: &Tables, findings: &mut Vec<Finding>) {
    for row in &tables.foot_exams {
        check_exam(row, findings);
    }
}

fn check_exam(row: &FootExam, findings: &mut Vec<Finding>) {
    let mut note = |check, message, hint| {
        findings.push(found(check, row.source, message).with_hint(hint));
    };
    if row.abi.is_some_and(|abi| abi > STIFF_ABOVE) {
        note(
            "abi-of-stiff-arteries",
            "the ankle-brachial index is above 1.4",
            "a toe pressure tells more about such a leg",
        );
    }
    if row.abi.is_some_and(|abi| abi < VERY_LOW_BELOW) {
        note(
            "abi-very-low",
            "the ankle-brachial index is below 0.2",
            "look for a misplaced decimal mark",
        );
    }
    if differs(row.abi, row.ankle_mmhg, row.brachial_mmhg) {
        note(
            "abi-does-not-fit-pressures",
            "the ankle-brachial index is not ankle pressure over brachial pressure",
            "one of the three is mistyped, or the index was taken from other pressures",
        );
    }
    if differs(row.tbi, row.toe_mmhg, row.brachial_mmhg) {
        note(
            "tbi-does-not-fit-pressures",
            "the toe-brachial index is not toe pressure over brachial pressure",
            "one of the three is mistyped, or the index was taken from other pressures",
        );
    }
    if let (Some(toe), Some(ankle)) = (row.toe_mmhg, row.ankle_mmhg)
        && toe > ankle
    {
        note(
            "toe-above-ankle",
            "the toe pressure is above the ankle pressure",
            "the two may be swapped",
        );
    }
}

fn differs(index: Option<f32>, upper: Option<f32>, brachial: Option<f32>) -> bool {
    let (Some(index), Some(upper), Some(brachial)) = (index, upper, brachial) else {
        return false;
    };
    brachial > 0.0
        && (f64::from(index) - f64::from(upper) / f64::from(brachial)).abs()
            > INDEX_TOLERANCE + ROUNDING
}
