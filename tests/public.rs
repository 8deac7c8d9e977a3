//! The public copy of the sample practice as an outsider holds it: its files and nothing else.

use crate::support::sample_run;
use serde_json::Value;
use std::collections::BTreeMap;

fn public_copy() -> (Value, String) {
    let out = sample_run();
    let read = |name: &str| std::fs::read_to_string(out.join("public").join(name)).unwrap();
    (
        serde_json::from_str(&read("report.json")).unwrap(),
        read("report.html"),
    )
}

fn shown(count: &Value) -> Option<u64> {
    count.get("shown").and_then(Value::as_u64)
}

/// Results by measure and stratum, with what they print: period -> (numerator, denominator).
type Printed = BTreeMap<(String, String), BTreeMap<String, (Option<u64>, Option<u64>)>>;

fn results(report: &Value) -> Printed {
    let mut printed = Printed::new();
    for family in report["families"].as_array().unwrap() {
        for sheet in family["measures"].as_array().unwrap() {
            for result in sheet["results"].as_array().unwrap() {
                let text = |key: &str| result[key].as_str().unwrap().to_owned();
                let counts = (shown(&result["numerator"]), shown(&result["denominator"]));
                let periods = printed
                    .entry((text("measure"), text("stratum")))
                    .or_default();
                periods.insert(text("period"), counts);
            }
        }
    }
    printed
}

#[test]
fn no_small_count_is_printed_and_none_is_a_year_less_its_other_quarters() {
    let (report, _) = public_copy();
    let is_small = |n: u64| (1..=10).contains(&n);
    let mut n_years = 0;
    for (measure, periods) in results(&report) {
        for (period, &(numerator, denominator)) in &periods {
            assert!(!numerator.is_some_and(is_small), "{measure:?} {period}");
            assert!(!denominator.is_some_and(is_small), "{measure:?} {period}");
            if let (Some(part), Some(whole)) = (numerator, denominator) {
                assert!(!is_small(whole.abs_diff(part)), "{measure:?} {period}");
            }
        }
        let years = periods.iter().filter(|(period, _)| period.contains(" to "));
        for (year, total) in years.filter_map(|(year, counts)| Some((year, counts.0?))) {
            let (first, last) = year.split_once(" to ").unwrap();
            let quarters = periods.iter().filter(|(period, _)| {
                !period.contains(" to ") && period.as_str() >= first && period.as_str() <= last
            });
            let counts: Vec<Option<u64>> = quarters.map(|(_, counts)| counts.0).collect();
            if counts.len() != 4 {
                continue;
            }
            n_years += 1;
            if counts.iter().filter(|count| count.is_none()).count() == 1 {
                let rest = total - counts.iter().flatten().sum::<u64>();
                assert!(!is_small(rest), "{measure:?} {year}");
            }
        }
    }
    assert!(n_years > 0, "some year is printed with its four quarters");
}

#[test]
fn nothing_of_a_single_person_is_in_the_public_folder() {
    let (report, html) = public_copy();
    for key in [
        "action_list",
        "flow",
        "accounts",
        "findings",
        "completeness",
        "suppressions",
    ] {
        assert_eq!(report[key].as_array().map(Vec::len), Some(0), "{key}");
    }
    let json = report.to_string();
    for word in [
        "TW-",
        ", record ",
        "counted, from",
        "tarnwick-visits.csv",
        "before the trigger, counted",
    ] {
        assert!(!json.contains(word) && !html.contains(word), "{word}");
    }
}
