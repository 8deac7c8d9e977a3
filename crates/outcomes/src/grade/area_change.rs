//! How the area of a wound changes: percentage, four-week reading, advance of the edge, exponential rate.

use std::f64::consts::PI;
use std::ops::RangeInclusive;

/// Days after the first area on which a reading stands for four weeks; the one nearest to day 28 counts.
/// Source: rule of this project.
pub const FOUR_WEEK_WINDOW: RangeInclusive<i64> = 21..=35;

/// Smallest first area of which a change is read, square cm: below it the error of measuring is as large as the wound.
/// Source: rule of this project.
pub const SMALLEST_FIRST_AREA_CM2: f64 = 0.2;

/// Share of the first area that has gone, in percent: 100 (first - now) / first. Negative when the wound has grown, 100
/// when it has closed.
///
/// `None` when an area is negative or no number, or the first is below `smallest_first_cm2`: the error of measuring a
/// very small wound is larger than any change.
pub fn area_reduction_percent(
    first_cm2: f64,
    now_cm2: f64,
    smallest_first_cm2: f64,
) -> Option<f64> {
    let is_usable = first_cm2.is_finite()
        && now_cm2.is_finite()
        && first_cm2 > 0.0
        && first_cm2 >= smallest_first_cm2
        && now_cm2 >= 0.0;
    // of 8.33 square cm exactly half is left by 4.165, which arithmetic of halves of powers of ten misses by its last bit
    is_usable.then(|| (100.0 * (first_cm2 - now_cm2) / first_cm2 * 1e9).round() / 1e9)
}

/// Position of the reading that stands for four weeks: nearest to day 28 in [`FOUR_WEEK_WINDOW`], of two equally near
/// the later. `None` when no reading falls in the window.
pub fn four_week_reading(days: &[i64]) -> Option<usize> {
    let in_window = days
        .iter()
        .enumerate()
        .filter(|(_, day)| FOUR_WEEK_WINDOW.contains(day));
    in_window
        .min_by_key(|(_, day)| ((*day - 28).abs(), -**day))
        .map(|(position, _)| position)
}

/// Area and perimeter of a wound at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outline {
    /// Square cm.
    pub area_cm2: f64,
    /// Perimeter, cm.
    pub perimeter_cm: f64,
}

/// Mean distance by which the edge has moved inwards, cm: (first - second area) / mean of the two perimeters.
/// Negative when the wound has grown; `None` when both perimeters are 0 or something is negative or no number.
///
/// Source: Gilman 1990 (from memory). Exact for a circle: radius 1.2 to 0.9 cm gives 0.3 cm.
pub fn edge_advance_cm(first: Outline, second: Outline) -> Option<f64> {
    let values = [
        first.area_cm2,
        first.perimeter_cm,
        second.area_cm2,
        second.perimeter_cm,
    ];
    let is_usable = values
        .iter()
        .all(|value| value.is_finite() && *value >= 0.0);
    let mean_perimeter = f64::midpoint(first.perimeter_cm, second.perimeter_cm);
    (is_usable && mean_perimeter > 0.0).then(|| (first.area_cm2 - second.area_cm2) / mean_perimeter)
}

/// Perimeter of the ellipse with these diameters, cm; for a wound of which only length and width are known.
///
/// Source: Ramanujan 1914, first approximation; below 0.01% off for a wound up to three times as long as wide. Length 3
/// and width 2 give 7.9327.
pub fn ellipse_perimeter_cm(length_cm: f64, width_cm: f64) -> f64 {
    let (a, b) = (length_cm / 2.0, width_cm / 2.0);
    PI * (3.0 * (a + b) - ((3.0 * a + b) * (a + 3.0 * b)).sqrt())
}

/// Rate of exponential shrinking a week: ln(first / now) / weeks. Negative when the wound has grown.
///
/// `None` without time between, and for a closed wound: no finite rate leads to an area of 0. Halving in 4 weeks is
/// 0.1733 a week.
pub fn exponential_rate_per_week(first_cm2: f64, now_cm2: f64, days: f64) -> Option<f64> {
    let is_usable = [first_cm2, now_cm2, days]
        .iter()
        .all(|value| value.is_finite() && *value > 0.0);
    is_usable.then(|| (first_cm2 / now_cm2).ln() / (days / 7.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(one: Option<f64>, other: f64, within: f64) {
        let one = one.unwrap();
        assert!((one - other).abs() < within, "{one} is not {other}");
    }

    #[test]
    fn exactly_half_is_half_whatever_the_sizes() {
        let area = |length: u32, width: u32| {
            let cm = |tenths: u32| (f64::from(tenths) / 10.0) as f32;
            super::super::area::area_from_lengths_cm2(
                crate::tables::as_written(cm(length)),
                crate::tables::as_written(cm(width)),
                crate::rules::AreaFormula::Ellipse,
            )
        };
        for length in 2..=100 {
            for width in 1..=50 {
                let half =
                    area_reduction_percent(area(2 * length, width), area(length, width), 0.0);
                assert_eq!(half, Some(50.0), "{length} x {width}");
                let turned =
                    area_reduction_percent(area(length, 2 * width), area(width, length), 0.0);
                assert_eq!(turned, Some(50.0), "{length} x {width}");
            }
        }
    }

    #[test]
    fn worked_examples_of_the_definitions_are_reproduced() {
        close(area_reduction_percent(4.0, 1.5, 0.2), 62.5, 1e-12);
        close(area_reduction_percent(4.0, 5.0, 0.2), -25.0, 1e-12);
        close(area_reduction_percent(4.0, 0.0, 0.2), 100.0, 1e-12);
        close(Some(ellipse_perimeter_cm(3.0, 2.0)), 7.9327, 5e-5);
        close(exponential_rate_per_week(2.0, 1.0, 28.0), 0.17329, 5e-6);
        let circle = |radius: f64| Outline {
            area_cm2: PI * radius * radius,
            perimeter_cm: 2.0 * PI * radius,
        };
        close(edge_advance_cm(circle(1.2), circle(0.9)), 0.3, 1e-12);
        let outline = |area_cm2, perimeter_cm| Outline {
            area_cm2,
            perimeter_cm,
        };
        close(
            edge_advance_cm(outline(4.0, 7.5), outline(2.5, 6.0)),
            0.2222,
            5e-5,
        );
        close(edge_advance_cm(circle(1.2), outline(0.0, 0.0)), 1.2, 1e-12);
    }

    #[test]
    fn halving_in_four_weeks_leaves_an_eighth_at_twelve_and_a_wound_of_4_at_0_05_after_25_29_weeks()
    {
        let rate = exponential_rate_per_week(2.0, 1.0, 28.0).unwrap();
        assert!((100.0 * (1.0 - (-rate * 12.0).exp()) - 87.5).abs() < 1e-9);
        assert!(((4.0f64 / 0.05).ln() / rate - 25.29).abs() < 0.005);
    }

    #[test]
    fn a_very_small_or_missing_first_area_gives_no_reduction() {
        assert_eq!(area_reduction_percent(0.19, 0.1, 0.2), None);
        assert!(area_reduction_percent(0.2, 0.1, 0.2).is_some());
        assert_eq!(area_reduction_percent(0.0, 0.0, 0.0), None);
        assert_eq!(area_reduction_percent(f64::NAN, 1.0, 0.2), None);
        assert_eq!(area_reduction_percent(2.0, -1.0, 0.2), None);
        assert_eq!(exponential_rate_per_week(2.0, 0.0, 28.0), None);
        assert_eq!(exponential_rate_per_week(2.0, 1.0, 0.0), None);
    }

    #[test]
    fn four_weeks_are_day_21_to_35_and_the_nearest_to_28_counts_the_later_of_two() {
        for (days, wanted) in [
            (vec![0, 20, 36], None),
            (vec![0, 21], Some(1)),
            (vec![0, 35], Some(1)),
            (vec![0, 14], None),
            (vec![0, 26, 30], Some(2)),
            (vec![0, 27, 30], Some(1)),
            (vec![28, 28], Some(0)),
            (vec![], None),
        ] {
            assert_eq!(four_week_reading(&days), wanted, "{days:?}");
        }
    }
}
