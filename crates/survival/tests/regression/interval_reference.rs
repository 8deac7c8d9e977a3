//! Every case of `reference/ic.json`: nonparametric estimates and accelerated failure time models of interval-censored times.

use serde_json::Value;
use survival::interval::{
    Distribution, IntervalRegressionFit, IntervalRegressionOptions, IntervalSample, Npmle,
    interval_regression, npmle,
};

use crate::support::{
    Table, assert_all_near, assert_near, cases, number, numbers, rows_of, terms_of,
};

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

/// Rows of a case as the model takes them: an empty right end is right-censored, a left end of 0 left-censored.
fn fit_of(case: &Value) -> IntervalRegressionFit {
    let table = rows_of(case);
    let mut sample = interval_sample(&table);
    if let Some(cluster) = case["columns"]["cluster"].as_str() {
        sample = sample.with_cluster(table.codes(cluster)).unwrap();
    }
    let distribution = match case["options"]["distribution"].as_str().unwrap() {
        "weibull" => Distribution::Weibull,
        "lognormal" => Distribution::LogNormal,
        other => panic!("unknown distribution {other}"),
    };
    let options = IntervalRegressionOptions {
        distribution,
        ..IntervalRegressionOptions::default()
    };
    interval_regression(&sample, &table.covariates(&terms_of(case)), &options).unwrap()
}

#[test]
fn regression_coefficients_likelihoods_and_variances_agree() {
    let mut n_checked = 0;
    for case in cases("ic.json")
        .iter()
        .filter(|case| case["method"] == "interval_censored_aft")
    {
        let name = case["id"].as_str().unwrap();
        let expected = &case["values"];
        let fit = fit_of(case);
        assert_eq!(fit.n as u64, expected["n"].as_u64().unwrap());
        let mut estimates = numbers(&expected["coef"]);
        estimates.push(number(&expected["log_scale"]));
        let found: Vec<f64> = fit
            .terms
            .iter()
            .map(|term| term.estimate.unwrap())
            .collect();
        assert_all_near(name, &found, &estimates, 1e-7);
        assert_near(name, fit.log_likelihood, number(&expected["loglik"]), 1e-10);
        assert_near(
            name,
            fit.log_likelihood_null,
            number(&expected["loglik_intercept_only"]),
            1e-10,
        );
        for (row, expected) in fit
            .covariance
            .rows
            .iter()
            .zip(expected["variance"].as_array().unwrap())
        {
            assert_all_near(&format!("{name} variance"), row, &numbers(expected), 1e-6);
        }
        if let Some(rows) = expected["robust_variance"].as_array() {
            for (row, expected) in fit
                .robust_covariance
                .as_ref()
                .unwrap()
                .rows
                .iter()
                .zip(rows)
            {
                assert_all_near(
                    &format!("{name} robust variance"),
                    row,
                    &numbers(expected),
                    1e-6,
                );
            }
        }
        if let Some(hazard) = expected["weibull_ph"].as_object() {
            let found = fit.weibull_hazard().unwrap();
            assert_near(name, found.shape, number(&hazard["shape"]), 1e-7);
            assert_near(
                name,
                found.characteristic_time,
                number(&hazard["scale_at_x0"]),
                1e-7,
            );
            let ratios: Vec<f64> = found
                .log_hazard_ratios
                .iter()
                .map(|ratio| ratio.unwrap())
                .collect();
            assert_all_near(name, &ratios, &numbers(&hazard["log_hazard_ratio"]), 1e-7);
        }
        for prediction in expected["predict"].as_array().into_iter().flatten() {
            let profile: Vec<f64> = terms_of(case)
                .iter()
                .map(|term| number(&prediction["x"][term]))
                .collect();
            for (place, probability) in numbers(&prediction["quantile_p"]).into_iter().enumerate() {
                let found = fit.quantile(&profile, probability).unwrap();
                assert_near(
                    name,
                    found.estimate,
                    number(&prediction["quantile"][place]),
                    1e-7,
                );
                assert_near(
                    name,
                    found.std_error,
                    number(&prediction["std_err"][place]),
                    1e-6,
                );
            }
        }
        n_checked += 1;
    }
    assert!(n_checked >= 4, "{n_checked} fits");
}
