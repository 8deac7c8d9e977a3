//! How numbers and dates are said in sentences. One place, so that sentences and tables agree.

use super::style::style;
use super::{Estimate, MeasureResult, Unit, Value};
use chrono::NaiveDate;

/// What is said where a number does not exist.
const NOT_ESTIMABLE: &str = "not estimable";

/// A share as a whole percentage; tenths below 1% and above 99%, so that a small share never reads as none or all.
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    let is_extreme = (percent > 0.0 && percent < 1.0) || (percent > 99.0 && percent < 100.0);
    if !percent.is_finite() {
        NOT_ESTIMABLE.to_owned()
    } else if percent > 0.0 && percent < 0.05 {
        format!("under {}%", decimal(0.1, 1))
    } else if (99.95..100.0).contains(&percent) {
        format!("over {}%", decimal(99.9, 1))
    } else if is_extreme {
        format!("{}%", decimal(percent, 1))
    } else {
        // Halves go up: 1 of 8 is 13%.
        format!("{:.0}%", (percent + 1e-9).round())
    }
}

/// A probability as so many of 100 times, never none and never all: `about 3 of 100 such comparisons`.
pub(crate) fn times_of_100(probability: f64) -> String {
    let times = (probability * 100.0).round();
    if times < 1.0 {
        "fewer than 1 of 100 such comparisons".to_owned()
    } else if times >= 100.0 {
        "nearly every such comparison".to_owned()
    } else {
        format!("about {times:.0} of 100 such comparisons")
    }
}

/// A whole number with a mark between thousands: `12,983`.
pub fn whole(n: u64) -> String {
    style().whole(n)
}

/// A number with so many decimals: `9.3`.
pub fn decimal(value: f64, digits: usize) -> String {
    style().decimal(value, digits)
}

/// Words written beforehand, such as a definition or a published figure, with their decimals as asked for. Not for sources, whose
/// points may part sections.
pub fn fixed(words: &str) -> String {
    style().fixed_words(words)
}

/// A number without needless decimals, two at the most: `0.25`, `1.5`, `10`.
pub fn short(value: f64) -> String {
    let is_enough = |digits: &usize| {
        let scaled = value * [1.0, 10.0][*digits];
        (scaled - scaled.round()).abs() < 1e-9
    };
    decimal(value, (0..2).find(is_enough).unwrap_or(2))
}

/// A date in words: `14 January 2026`.
pub fn date(date: NaiveDate) -> String {
    style().date(date)
}

/// One number of a unit: `44%`, `52 days`, `3`, `0.81`. A number that is not finite is not estimable.
pub fn number(unit: Unit, value: f64) -> String {
    let bare = bare_number(unit, value);
    match unit {
        _ if !value.is_finite() => bare,
        Unit::Days if bare == "1" => "1 day".to_owned(),
        Unit::Days => format!("{bare} days"),
        Unit::Per100PersonYears => format!("{bare} per 100 person-years"),
        Unit::MillimetresPerWeek => format!("{bare} mm a week"),
        Unit::PerWeek => format!("{bare} a week"),
        Unit::Per100People => format!("{bare} per 100 people"),
        Unit::Share | Unit::Count | Unit::Ratio => bare,
    }
}

/// The same without the words of the unit. A count that is not whole, such as an expected one, keeps a tenth.
fn bare_number(unit: Unit, value: f64) -> String {
    match unit {
        _ if !value.is_finite() => NOT_ESTIMABLE.to_owned(),
        Unit::Share => percent(value),
        Unit::Days => rounded(value),
        Unit::Count if value.fract() == 0.0 => rounded(value),
        Unit::Count | Unit::Per100PersonYears | Unit::Per100People | Unit::MillimetresPerWeek => {
            decimal(value, 1)
        }
        Unit::Ratio | Unit::PerWeek => decimal(value, 2),
    }
}

fn rounded(value: f64) -> String {
    let digits = format!("{value:.0}");
    digits.parse().map_or(digits, whole)
}

/// An estimate without its limits. A share whose interval is narrower than 5 points keeps a tenth: `9.3%`.
pub fn estimate(unit: Unit, estimate: &Estimate) -> String {
    let ends = estimate.interval.as_ref();
    match ends.and_then(|interval| interval.lower.zip(interval.upper)) {
        Some((lower, upper)) if unit == Unit::Share && is_narrow(lower, upper) => {
            fine_percent(estimate.estimate)
        }
        _ => number(unit, estimate.estimate),
    }
}

/// Whether whole percentages would hide what an interval can tell.
fn is_narrow(lower: f64, upper: f64) -> bool {
    upper - lower < 0.05
}

/// A percentage with a tenth; none, all and the ends of the scale as in [`percent`].
fn fine_percent(share: f64) -> String {
    let percent_of_share = share * 100.0;
    if (0.05..99.95).contains(&percent_of_share) {
        format!("{}%", decimal(percent_of_share, 1))
    } else {
        percent(share)
    }
}

/// Limits of an estimate: `31% to 52%`, `at least 40 days`; `None` where there are none.
pub fn limits(unit: Unit, estimate: &Estimate) -> Option<String> {
    let interval = estimate.interval.as_ref()?;
    between(unit, interval.lower, interval.upper)
}

/// From a lower to an upper end, the unit said once: `74 to 121 days`, `at most 30%`; `None` without ends.
pub fn between(unit: Unit, lower: Option<f64>, upper: Option<f64>) -> Option<String> {
    match (lower, upper) {
        (Some(lower), Some(upper)) if unit == Unit::Share && is_narrow(lower, upper) => Some(
            format!("{} to {}", fine_percent(lower), fine_percent(upper)),
        ),
        (Some(lower), Some(upper)) => Some(format!(
            "{} to {}",
            bare_number(unit, lower),
            number(unit, upper)
        )),
        (Some(lower), None) => Some(format!("at least {}", number(unit, lower))),
        (None, Some(upper)) => Some(format!("at most {}", number(unit, upper))),
        (None, None) => None,
    }
}

/// A value with its limits, or the reason there is none: `44% (31% to 52%)`, `not yet: mature from 14 January 2026`.
pub fn value(result: &MeasureResult) -> String {
    match &result.value {
        Value::Known(estimate) => {
            let number = self::estimate(result.unit, estimate);
            match limits(result.unit, estimate) {
                Some(limits) => format!("{number} ({limits})"),
                None => number,
            }
        }
        Value::NotYet { matures_on } => format!("not yet: mature from {}", date(*matures_on)),
        Value::NotEstimable { reason } => format!("{NOT_ESTIMABLE}: {reason}"),
        Value::NotReached { lower: Some(lower) } => {
            format!("not reached (at least {})", number(result.unit, *lower))
        }
        Value::NotReached { lower: None } => "not reached".to_owned(),
        Value::Suppressed => "suppressed".to_owned(),
    }
}

/// A value with its limits and the counts behind it: `44% (31% to 52%), 18 of 41`.
pub fn value_with_counts(result: &MeasureResult) -> String {
    let value = value(result);
    match (result.numerator, result.denominator) {
        (Some(numerator), Some(denominator)) => format!("{value}, {numerator} of {denominator}"),
        (None, Some(denominator)) => format!("{value}, n = {denominator}"),
        _ => value,
    }
}

/// How much one value is above another: `+3 points` for shares, `-4 days`, `+0.12`.
pub fn difference(unit: Unit, by: f64) -> String {
    let sign = if by > 0.0 {
        "+"
    } else if by < 0.0 {
        "-"
    } else {
        ""
    };
    let size = by.abs();
    match unit {
        _ if !by.is_finite() => NOT_ESTIMABLE.to_owned(),
        Unit::Share => {
            let points = size * 100.0;
            let digits = usize::from(points < 9.95);
            format!("{sign}{} points", decimal(points, digits))
        }
        _ => format!("{sign}{}", number(unit, size)),
    }
}

/// A count with its noun: `1 ulcer`, `12 ulcers`.
pub fn counted(n: usize, one: &str, many: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{} {many}", whole(n as u64))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_reads_as_none_or_all_only_when_it_is() {
        let cases = [
            (0.0, "0%"),
            (0.0003, "under 0.1%"),
            (0.004, "0.4%"),
            (0.435, "44%"),
            (0.996, "99.6%"),
            (0.9996, "over 99.9%"),
            (1.0, "100%"),
            (f64::NAN, "not estimable"),
        ];
        for (share, words) in cases {
            assert_eq!(percent(share), words, "{share}");
        }
    }

    #[test]
    fn every_unit_has_its_own_wording() {
        let cases = [
            (Unit::Share, 0.415, "42%"),
            (Unit::Days, 52.0, "52 days"),
            (Unit::Days, 1.0, "1 day"),
            (Unit::Days, 1204.0, "1,204 days"),
            (Unit::Count, 12_983.0, "12,983"),
            (Unit::Count, 12.44, "12.4"),
            (Unit::Per100PersonYears, 22.14, "22.1 per 100 person-years"),
            (Unit::Ratio, 1.354, "1.35"),
            (Unit::Days, f64::INFINITY, "not estimable"),
        ];
        for (unit, value, words) in cases {
            assert_eq!(number(unit, value), words);
        }
    }

    #[test]
    fn an_interval_says_its_unit_once_and_names_an_open_end() {
        let cases = [
            (Unit::Share, Some(0.31), Some(0.52), Some("31% to 52%")),
            (Unit::Share, Some(0.0), Some(0.032), Some("0% to 3.2%")),
            (Unit::Days, Some(74.0), Some(121.0), Some("74 to 121 days")),
            (Unit::Days, Some(45.0), None, Some("at least 45 days")),
            (Unit::Share, None, Some(0.3), Some("at most 30%")),
            (Unit::Count, Some(0.0), Some(5.57), Some("0 to 5.6")),
            (Unit::Share, None, None, None),
        ];
        for (unit, lower, upper, words) in cases {
            assert_eq!(between(unit, lower, upper).as_deref(), words);
        }
    }

    #[test]
    fn a_narrow_interval_and_its_share_keep_a_tenth() {
        let interval = |lower, upper| {
            let (level, method) = (0.95, "Wilson".to_owned());
            let (lower, upper) = (Some(lower), Some(upper));
            Some(super::super::Interval {
                lower,
                upper,
                level,
                method,
            })
        };
        let narrow = Estimate {
            estimate: 0.0927,
            interval: interval(0.0878, 0.0978),
        };
        assert_eq!(estimate(Unit::Share, &narrow), "9.3%");
        assert_eq!(
            limits(Unit::Share, &narrow).as_deref(),
            Some("8.8% to 9.8%")
        );
        let wide = Estimate {
            estimate: 0.0927,
            interval: interval(0.02, 0.21),
        };
        assert_eq!(estimate(Unit::Share, &wide), "9%");
    }

    #[test]
    fn a_difference_of_shares_is_in_points_and_keeps_its_sign() {
        let cases = [
            (Unit::Share, 0.034, "+3.4 points"),
            (Unit::Share, -0.124, "-12 points"),
            (Unit::Share, 0.0, "0.0 points"),
            (Unit::Days, -1.0, "-1 day"),
            (Unit::Count, 2.0, "+2"),
            (Unit::Ratio, 0.117, "+0.12"),
            (Unit::Share, f64::NAN, "not estimable"),
        ];
        for (unit, by, words) in cases {
            assert_eq!(difference(unit, by), words);
        }
    }

    #[test]
    fn thousands_are_grouped() {
        for (n, words) in [
            (0, "0"),
            (999, "999"),
            (1000, "1,000"),
            (1_234_567, "1,234,567"),
        ] {
            assert_eq!(whole(n), words);
        }
    }
}
