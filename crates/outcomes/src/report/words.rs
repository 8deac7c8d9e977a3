//! How numbers and dates are said in sentences. One place, so that sentences and tables agree.

use super::{Estimate, MeasureResult, Unit, Value};
use chrono::{Datelike, NaiveDate};

/// A share as a whole percentage; tenths below 1% and above 99% so that a small share never reads as none or all.
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    let is_extreme = (percent > 0.0 && percent < 1.0) || (percent > 99.0 && percent < 100.0);
    if is_extreme {
        format!("{percent:.1}%")
    } else {
        format!("{percent:.0}%")
    }
}

/// A date in words: `14 January 2026`.
pub fn date(date: NaiveDate) -> String {
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
    let month = MONTHS
        .get(date.month0() as usize)
        .copied()
        .unwrap_or_default();
    format!("{} {month} {}", date.day(), date.year())
}

/// One number of a unit: `44%`, `52 days`, `3`, `0.81`.
pub fn number(unit: Unit, value: f64) -> String {
    match unit {
        Unit::Share => percent(value),
        Unit::Days if (value - 1.0).abs() < 1e-9 => "1 day".to_owned(),
        Unit::Days => format!("{value:.0} days"),
        Unit::Count => format!("{value:.0}"),
        Unit::Per100PersonYears => format!("{value:.1} per 100 person-years"),
        Unit::Ratio => format!("{value:.2}"),
    }
}

/// Limits of an estimate: `31% to 52%`, `at least 40 days`; `None` where there are none.
pub fn limits(unit: Unit, estimate: &Estimate) -> Option<String> {
    let interval = estimate.interval.as_ref()?;
    // Counts have limits between whole numbers.
    let say = |value: f64| {
        if unit == Unit::Count {
            format!("{value:.1}")
        } else {
            number(unit, value)
        }
    };
    match (interval.lower, interval.upper) {
        (Some(lower), Some(upper)) => Some(format!("{} to {}", say(lower), say(upper))),
        (Some(lower), None) => Some(format!("at least {}", say(lower))),
        (None, Some(upper)) => Some(format!("at most {}", say(upper))),
        (None, None) => None,
    }
}

/// A value with its limits, or the reason there is none: `44% (31% to 52%)`, `not yet: mature from 14 January 2026`.
pub fn value(result: &MeasureResult) -> String {
    match &result.value {
        Value::Known(estimate) => {
            let number = number(result.unit, estimate.estimate);
            match limits(result.unit, estimate) {
                Some(limits) => format!("{number} ({limits})"),
                None => number,
            }
        }
        Value::NotYet { matures_on } => format!("not yet: mature from {}", date(*matures_on)),
        Value::NotEstimable { reason } => format!("not estimable: {reason}"),
        Value::NotReached { lower: Some(lower) } => {
            format!("not reached (at least {})", number(result.unit, *lower))
        }
        Value::NotReached { lower: None } => "not reached".to_owned(),
        Value::Suppressed => "suppressed".to_owned(),
    }
}

/// A count with its noun: `1 ulcer`, `12 ulcers`.
pub fn counted(n: usize, one: &str, many: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {many}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_share_never_reads_as_none() {
        assert_eq!(percent(0.004), "0.4%");
        assert_eq!(percent(0.0), "0%");
        assert_eq!(percent(0.996), "99.6%");
        assert_eq!(percent(1.0), "100%");
        assert_eq!(percent(0.435), "44%");
    }
}
