//! How values, intervals and absences are worded. Numbers and dates come from the words that sentences use too.

pub(crate) use outcomes::report::words::{between, date, decimal, number, percent, whole};

use outcomes::report::words;
use outcomes::report::{Interval, MeasureResult, SensitiveFigure, TrendPoint, Unit, Value};

/// A name, and of which stratum where it is not of all: `2025 Q1: Hill`.
pub(crate) fn of_stratum(name: &str, stratum: &str) -> String {
    if stratum == "all" {
        name.to_owned()
    } else {
        format!("{name}: {stratum}")
    }
}

/// A figure as it is now, where it is still made.
pub(crate) fn value_now(now: Option<&MeasureResult>) -> String {
    now.map_or_else(|| "not made any more".to_owned(), words::value_with_counts)
}

/// By how much a figure differs under another rule.
pub(crate) fn difference_under(figure: &SensitiveFigure) -> String {
    figure.difference.map_or_else(
        || "no difference can be given".to_owned(),
        |by| words::difference(figure.in_force.unit, by),
    )
}

/// Level and method of an interval: `95%, Wilson`.
pub(crate) fn interval_kind(interval: &Interval) -> String {
    format!("{}, {}", level(interval.level), interval.method)
}

/// The level of an interval without needless decimals: `95%`, `99.8%`.
pub(crate) fn level(level: f64) -> String {
    let percent = (level * 1000.0).round() / 10.0;
    let digits = usize::from(percent.fract() != 0.0);
    format!("{}%", decimal(percent, digits))
}

/// The value of a measure without its limits, or the reason there is none.
pub(crate) fn value(value: &Value, unit: Unit) -> String {
    match value {
        Value::Known(estimate) => words::estimate(unit, estimate),
        Value::NotYet { matures_on } => format!("not yet: mature from {}", date(*matures_on)),
        Value::NotEstimable { reason } => format!("not estimable: {reason}"),
        Value::NotReached { .. } => "not reached".to_owned(),
        Value::Suppressed => "suppressed".to_owned(),
    }
}

/// The limits that belong to a value, where it has any.
pub(crate) fn value_limits(value: &Value, unit: Unit) -> Option<String> {
    match value {
        Value::Known(estimate) => words::limits(unit, estimate),
        Value::NotReached { lower } => between(unit, *lower, None),
        _ => None,
    }
}

/// One quarter of a trend: its value, or why there is none.
pub(crate) fn trend_value(point: &TrendPoint, unit: Unit) -> String {
    match point.estimate {
        Some(estimate) => number(unit, estimate),
        None => absence(point).to_owned(),
    }
}

/// Why a quarter has no value.
pub(crate) fn absence(point: &TrendPoint) -> &str {
    point.absent.as_deref().unwrap_or("not estimable")
}

/// A size in bytes: `8,812 bytes`, `4.2 MB`.
pub(crate) fn file_size(bytes: u64) -> String {
    match bytes {
        0..10_000 => format!("{} bytes", whole(bytes)),
        10_000..1_000_000 => format!("{:.0} kB", bytes as f64 / 1e3),
        _ => format!("{} MB", decimal(bytes as f64 / 1e6, 1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;
    use outcomes::report::Estimate;

    #[test]
    fn absence_is_words_and_never_a_number() {
        let matures_on = NaiveDate::from_ymd_opt(2026, 1, 14).unwrap();
        let no_estimate = Estimate {
            estimate: f64::NAN,
            interval: None,
        };
        let reason = "nobody at risk".to_owned();
        let cases = [
            (
                Value::NotYet { matures_on },
                "not yet: mature from 14 January 2026",
            ),
            (
                Value::NotEstimable { reason },
                "not estimable: nobody at risk",
            ),
            (Value::NotReached { lower: None }, "not reached"),
            (Value::Suppressed, "suppressed"),
            (Value::Known(no_estimate), "not estimable"),
        ];
        for (absent, words) in cases {
            assert_eq!(value(&absent, Unit::Share), words);
            assert_eq!(value_limits(&absent, Unit::Share), None);
        }
    }

    #[test]
    fn a_quantile_that_is_not_reached_keeps_its_lower_limit() {
        let value = Value::NotReached { lower: Some(148.0) };
        assert_eq!(
            value_limits(&value, Unit::Days).as_deref(),
            Some("at least 148 days")
        );
    }

    #[test]
    fn levels_and_sizes_carry_no_needless_decimals() {
        assert_eq!([0.95, 0.998].map(level), ["95%", "99.8%"]);
        assert_eq!(
            [8_812, 88_120, 4_218_330].map(file_size),
            ["8,812 bytes", "88 kB", "4.2 MB"]
        );
    }
}
