//! How numbers, dates and absences are worded. Every figure on the page passes through here.

use chrono::{Datelike, NaiveDate};
use outcomes::report::{Count, Interval, TrendPoint, Unit, Value};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A date in words: `14 January 2026`.
pub(crate) fn date(date: NaiveDate) -> String {
    let month = MONTHS
        .get(date.month0() as usize)
        .copied()
        .unwrap_or_default();
    format!("{} {month} {}", date.day(), date.year())
}

/// A whole number with commas between thousands: `12,983`.
pub(crate) fn whole(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// A count, or the word `suppressed`.
pub(crate) fn count(count: Count) -> String {
    match count {
        Count::Shown(n) => whole(n),
        Count::Suppressed => SUPPRESSED.to_owned(),
    }
}

const SUPPRESSED: &str = "suppressed";
const NOT_ESTIMABLE: &str = "not estimable";

/// A share of one as a percentage: whole from 10% to 99%, one decimal outside.
///
/// Nothing that is not exactly 0 or 1 is worded as 0% or 100%.
pub(crate) fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if !percent.is_finite() {
        NOT_ESTIMABLE.to_owned()
    } else if percent > 0.0 && percent < 0.05 {
        "under 0.1%".to_owned()
    } else if (99.95..100.0).contains(&percent) {
        "over 99.9%".to_owned()
    } else if percent == 0.0 || percent == 100.0 || (9.95..=99.0).contains(&percent) {
        format!("{percent:.0}%")
    } else {
        format!("{percent:.1}%")
    }
}

/// A number with its unit: `42%`, `52 days`, `12.3 per 100 person-years`.
pub(crate) fn number(value: f64, unit: Unit) -> String {
    if !value.is_finite() {
        return NOT_ESTIMABLE.to_owned();
    }
    match unit {
        Unit::Share => percent(value),
        Unit::Days if format!("{value:.0}") == "1" => "1 day".to_owned(),
        Unit::Days => format!("{} days", grouped(value, 0)),
        Unit::Count if value.fract() == 0.0 => grouped(value, 0),
        Unit::Count => grouped(value, 1),
        Unit::Per100PersonYears => format!("{value:.1} per 100 person-years"),
        Unit::Ratio => format!("{value:.2}"),
    }
}

/// The same number without the words of its unit, for axes and tables that name the unit once.
pub(crate) fn short_number(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Days if value.is_finite() => grouped(value, 0),
        Unit::Per100PersonYears if value.is_finite() => format!("{value:.1}"),
        _ => number(value, unit),
    }
}

fn grouped(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let (whole_part, rest) = text
        .split_once('.')
        .map_or((text.as_str(), None), |(w, r)| (w, Some(r)));
    let grouped = whole_part
        .parse()
        .map_or_else(|_| whole_part.to_owned(), whole);
    rest.map_or_else(|| grouped.clone(), |rest| format!("{grouped}.{rest}"))
}

/// Lower to upper limit: `31% to 52%`. An end the data cannot give is said in words.
pub(crate) fn limits(lower: Option<f64>, upper: Option<f64>, unit: Unit) -> String {
    let open_end = if unit == Unit::Days {
        "not reached"
    } else {
        NOT_ESTIMABLE
    };
    let lower_words = lower.map_or_else(
        || NOT_ESTIMABLE.to_owned(),
        |value| short_number(value, unit),
    );
    let upper_words = upper.map_or_else(|| open_end.to_owned(), |value| short_number(value, unit));
    match (unit, upper) {
        (Unit::Days, Some(_)) => format!("{lower_words} to {upper_words} days"),
        (Unit::Days, None) => format!("{lower_words} days to {upper_words}"),
        (Unit::Per100PersonYears, _) => {
            format!("{lower_words} to {upper_words} per 100 person-years")
        }
        _ => format!("{lower_words} to {upper_words}"),
    }
}

/// Level and method of an interval: `95%, Wilson`.
pub(crate) fn interval_kind(interval: &Interval) -> String {
    format!("{}, {}", level(interval.level), interval.method)
}

/// The level of an interval without needless decimals: `95%`, `99.8%`.
pub(crate) fn level(level: f64) -> String {
    let percent = (level * 1000.0).round() / 10.0;
    format!("{percent}%")
}

/// The value of a measure, or the reason there is none.
pub(crate) fn value(value: &Value, unit: Unit) -> String {
    match value {
        Value::Known(estimate) => number(estimate.estimate, unit),
        Value::NotYet { matures_on } => format!("not yet: mature from {}", date(*matures_on)),
        Value::NotEstimable { reason } => format!("{NOT_ESTIMABLE}: {reason}"),
        Value::NotReached { .. } => "not reached".to_owned(),
        Value::Suppressed => SUPPRESSED.to_owned(),
    }
}

/// The limits that belong to a value, where it has any.
pub(crate) fn value_limits(value: &Value, unit: Unit) -> Option<String> {
    match value {
        Value::Known(estimate) => {
            let interval = estimate.interval.as_ref()?;
            Some(limits(interval.lower, interval.upper, unit))
        }
        Value::NotReached { lower: Some(lower) } => Some(limits(Some(*lower), None, unit)),
        _ => None,
    }
}

/// One quarter of a trend: its value, or why there is none.
pub(crate) fn trend_value(point: &TrendPoint, unit: Unit) -> String {
    match point.estimate {
        Some(estimate) => number(estimate, unit),
        None => absence(point).to_owned(),
    }
}

/// Why a quarter has no value.
pub(crate) fn absence(point: &TrendPoint) -> &str {
    point.absent.as_deref().unwrap_or(NOT_ESTIMABLE)
}

/// A size in bytes: `1,204 bytes`, `3.2 MB`.
pub(crate) fn file_size(bytes: u64) -> String {
    match bytes {
        0..10_000 => format!("{} bytes", whole(bytes)),
        10_000..1_000_000 => format!("{:.0} kB", bytes as f64 / 1e3),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use outcomes::report::Estimate;

    #[test]
    fn percentages_carry_sensible_digits_and_never_round_to_certainty() {
        let cases = [
            (0.0, "0%"),
            (0.0003, "under 0.1%"),
            (0.024, "2.4%"),
            (0.0994, "9.9%"),
            (0.0996, "10%"),
            (0.42, "42%"),
            (0.9899, "99%"),
            (0.9951, "99.5%"),
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
            (Unit::Count, 12.0, "12"),
            (Unit::Count, 12.44, "12.4"),
            (Unit::Per100PersonYears, 22.14, "22.1 per 100 person-years"),
            (Unit::Ratio, 1.354, "1.35"),
        ];
        for (unit, value, words) in cases {
            assert_eq!(number(value, unit), words);
        }
    }

    #[test]
    fn an_interval_reads_lower_to_upper_and_names_an_open_end() {
        assert_eq!(limits(Some(0.31), Some(0.52), Unit::Share), "31% to 52%");
        assert_eq!(limits(Some(45.0), Some(71.0), Unit::Days), "45 to 71 days");
        assert_eq!(
            limits(Some(45.0), None, Unit::Days),
            "45 days to not reached"
        );
        assert_eq!(limits(None, Some(0.3), Unit::Share), "not estimable to 30%");
        assert_eq!(level(0.95), "95%");
        assert_eq!(level(0.998), "99.8%");
    }

    #[test]
    fn absence_is_words_and_never_a_number() {
        let matures_on = NaiveDate::from_ymd_opt(2026, 1, 14).unwrap();
        let cases = [
            (
                Value::NotYet { matures_on },
                "not yet: mature from 14 January 2026",
            ),
            (
                Value::NotEstimable {
                    reason: "nobody at risk".into(),
                },
                "not estimable: nobody at risk",
            ),
            (Value::NotReached { lower: None }, "not reached"),
            (Value::Suppressed, "suppressed"),
            (
                Value::Known(Estimate {
                    estimate: f64::NAN,
                    interval: None,
                }),
                "not estimable",
            ),
        ];
        for (absent, words) in cases {
            assert_eq!(value(&absent, Unit::Share), words);
        }
        assert_eq!(count(Count::Suppressed), "suppressed");
    }

    #[test]
    fn thousands_are_grouped() {
        for (n, words) in [
            (0, "0"),
            (999, "999"),
            (1000, "1,000"),
            (12_983, "12,983"),
            (1_234_567, "1,234,567"),
        ] {
            assert_eq!(whole(n), words);
        }
    }
}
