//! Shoe size worn against foot size measured, at the examination nearest before or after the first visit of an ulcer.

use super::new_ulcers;
use crate::derive::{Episode, Reading};
use crate::rules::Rules;

/// Sizes are recorded in halves; anything smaller is rounding of the record.
const ROUNDING: f64 = 1e-3;

/// Days before the first visit from which an examination still describes the shoes the ulcer came in.
const DAYS_BEFORE: i64 = 365;

/// Worn less measured size of the foot of an ulcer, in US sizes; below 0 the shoe is too small. `None` when no examination in
/// the year before the first visit, or in the presentation window after it, recorded both. The newest of them decides.
pub(super) fn mismatch(reading: &Reading<'_>, ulcer: &Episode, rules: &Rules) -> Option<f64> {
    let exams = new_ulcers::exams(reading, ulcer, DAYS_BEFORE, rules.presentation_window_days);
    let both = exams.filter_map(|exam| {
        let worn = f64::from(exam.worn_size?);
        Some(worn - f64::from(exam.measured_size?))
    });
    both.last()
}

/// Whether a shoe is too small by at least so many sizes.
pub(super) fn is_too_small_by(mismatch: f64, sizes: f64) -> bool {
    -mismatch >= sizes - ROUNDING
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_millimetres_in_the_words_are_those_of_a_third_of_an_inch() {
        // One full US size is a third of an inch: common practice, no source. An inch is 25.4 mm by definition.
        let mm_a_size = 25.4 / 3.0;
        assert_eq!(format!("{mm_a_size:.1} {:.1}", mm_a_size / 2.0), "8.5 4.2");
    }

    #[test]
    fn a_shoe_smaller_by_exactly_one_size_is_outgrown() {
        assert!(is_too_small_by(9.0 - 10.0, 1.0));
        assert!(!is_too_small_by(9.5 - 10.0, 1.0));
        assert!(!is_too_small_by(11.0 - 10.0, 1.0));
        // Sizes are stored in single precision.
        assert!(is_too_small_by(f64::from(8.4f32) - f64::from(9.4f32), 1.0));
    }
}
