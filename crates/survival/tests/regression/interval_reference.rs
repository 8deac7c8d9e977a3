//! Every case of `reference/ic.json`: nonparametric estimates and accelerated failure time models of interval-censored times.

use serde_json::Value;
use survival::interval::{IntervalSample, Npmle, npmle};

use crate::support::{Table, assert_near, cases, number, numbers, rows_of};

fn interval_sample(table: &Table) -> IntervalSample {
    IntervalSample::new(table.numbers("left"), table.numbers("right")).unwrap()
}

fn for_each_curve(mut check: impl FnMut(&str, &Npmle, &Value)) {
    for case in cases("ic.json")
        .iter()
        .filter(|case| case["method"] == "turnbull_npmle")
    {
        let table = rows_of(case);
        for expected in case["values"]["curves"].as_array().unwrap() {
            let group = expected["group"].as_str().unwrap();
            let rows = match case["columns"]["group"].as_str() {
                Some(column) => table.keep(|row| table.text(column)[row] == group),
                None => table.keep(|_| true),
            };
            let estimate = npmle(&interval_sample(&rows)).unwrap();
            check(&format!("{} {group}", case["id"]), &estimate, expected);
        }
    }
}

#[test]
fn nonparametric_likelihoods_masses_and_curves_agree() {
    let mut n_checked = 0;
    for_each_curve(|name, estimate, expected| {
        assert_eq!(estimate.n as u64, expected["n"].as_u64().unwrap());
        assert_eq!(
            estimate.n_innermost as u64,
            expected["n_innermost"].as_u64().unwrap(),
            "{name}"
        );
        assert_near(
            &format!("{name} log likelihood"),
            estimate.log_likelihood,
            number(&expected["loglik"]),
            1e-12,
        );
        assert!(
            estimate.largest_excess <= 1e-9,
            "{name}: {}",
            estimate.largest_excess
        );
        let intervals = &expected["intervals"];
        let masses = numbers(&intervals["mass"]);
        assert_eq!(estimate.masses.len(), masses.len(), "{name}");
        for (position, mass) in estimate.masses.iter().enumerate() {
            assert_eq!(mass.lower, number(&intervals["left"][position]), "{name}");
            assert_eq!(mass.upper, intervals["right"][position].as_f64(), "{name}");
            assert!(
                (mass.probability - masses[position]).abs() < 1e-9,
                "{name} mass {position}: {} {}",
                mass.probability,
                masses[position]
            );
        }
        for (time, probability) in numbers(&expected["survival_at"]["time"])
            .iter()
            .zip(numbers(&expected["survival_at"]["surv"]))
        {
            let point = estimate.at(*time);
            assert!(
                (point.estimate.unwrap() - probability).abs() < 1e-9,
                "{name} at {time}"
            );
        }
        n_checked += 1;
    });
    assert!(n_checked >= 5, "{n_checked} curves");
}
