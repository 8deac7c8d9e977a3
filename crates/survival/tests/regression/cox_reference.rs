//! Every proportional hazards case of `reference/cox.json`. The file names, for each case, the general-purpose
//! library and version that made its values.

use serde_json::Value;
use survival::regression::concordance::TimeWeight;
use survival::regression::cox::{CoxFit, CoxOptions, Ties, TimeTransform, cox};

use crate::concordance_reference::check_concordance;
use crate::support::{
    Table, assert_all_near, assert_near, cases, number, numbers, rows_of, sample_of, terms_of,
};

/// Relative, as agreed for coefficients, errors, likelihoods, baselines and residuals.
const TOLERANCE: f64 = 1e-7;

#[test]
fn coefficients_variances_and_tests_agree() {
    let mut n_fits = 0;
    for_each_fit(|name, fit, expected, _, _| {
        n_fits += 1;
        assert_eq!(fit.n as u64, expected["n"].as_u64().unwrap());
        assert_eq!(fit.n_events as u64, expected["events"].as_u64().unwrap());
        let estimates: Vec<f64> = fit
            .terms
            .iter()
            .map(|term| term.estimate.unwrap())
            .collect();
        assert_all_near(
            &format!("{name} coefficients"),
            &estimates,
            &numbers(&expected["coef"]),
            TOLERANCE,
        );
        let errors: Vec<f64> = fit
            .terms
            .iter()
            .map(|term| term.std_error.unwrap())
            .collect();
        assert_all_near(
            &format!("{name} standard errors"),
            &errors,
            &numbers(&expected["se"]),
            TOLERANCE,
        );
        assert_near(
            name,
            fit.log_likelihood_null,
            number(&expected["loglik_null"]),
            TOLERANCE,
        );
        assert_near(
            name,
            fit.log_likelihood,
            number(&expected["loglik"]),
            TOLERANCE,
        );
        assert_near(
            &format!("{name} likelihood ratio"),
            fit.likelihood_ratio_test.statistic,
            number(&expected["lr_test"]),
            TOLERANCE,
        );
        assert_near(
            &format!("{name} score"),
            fit.score_test.statistic,
            number(&expected["score_test"]),
            TOLERANCE,
        );
        assert_near(
            &format!("{name} wald"),
            fit.wald_test.as_ref().unwrap().statistic,
            number(&expected["wald_test"]),
            TOLERANCE,
        );
        for (row, expected_row) in fit
            .covariance
            .rows
            .iter()
            .zip(expected["variance"].as_array().unwrap())
        {
            assert_all_near(
                &format!("{name} variance"),
                row,
                &numbers(expected_row),
                TOLERANCE,
            );
        }
        if !expected["robust_se"].is_null() {
            let errors: Vec<f64> = fit
                .terms
                .iter()
                .map(|term| term.robust_std_error.unwrap())
                .collect();
            assert_all_near(
                &format!("{name} robust errors"),
                &errors,
                &numbers(&expected["robust_se"]),
                TOLERANCE,
            );
            let score = fit.robust_score_test().unwrap().statistic;
            assert_near(
                &format!("{name} robust score"),
                score,
                number(&expected["robust_score_test"]),
                TOLERANCE,
            );
            let wald = fit.model_based_wald_test.as_ref().unwrap().statistic;
            assert_near(
                &format!("{name} naive wald"),
                wald,
                number(&expected["wald_test_naive"]),
                TOLERANCE,
            );
        }
    });
    assert!(n_fits >= 20, "{n_fits} fits");
}

#[test]
fn baselines_agree_for_every_stratum() {
    let mut n_checked = 0;
    for_each_fit(|name, fit, expected, case, table| {
        let Some(strata) = expected["baseline_cumhaz"].as_array() else {
            return;
        };
        let baselines = fit.baseline().unwrap();
        for stratum in strata {
            let label = match &stratum["stratum"] {
                Value::String(text) => text.clone(),
                other => other.to_string(),
            };
            let code = case["columns"]["strata"].as_str().map_or(0, |column| {
                table
                    .labels(column)
                    .iter()
                    .position(|text| *text == label)
                    .unwrap() as u32
            });
            let baseline = baselines
                .iter()
                .find(|baseline| baseline.stratum == code)
                .unwrap();
            for (time, hazard) in numbers(&stratum["time"])
                .iter()
                .zip(numbers(&stratum["cumhaz"]))
            {
                let found = baseline
                    .steps
                    .iter()
                    .rev()
                    .find(|step| step.time <= *time)
                    .map_or(0.0, |step| step.cumulative_hazard);
                assert_near(
                    &format!("{name} baseline {label} at {time}"),
                    found,
                    hazard,
                    TOLERANCE,
                );
                n_checked += 1;
            }
        }
    });
    assert!(n_checked > 200, "{n_checked} steps");
}

#[test]
fn predicted_curves_agree_with_their_errors_and_limits() {
    let mut n_checked = 0;
    for_each_fit(|name, fit, expected, case, _| {
        for prediction in expected["predict"].as_array().into_iter().flatten() {
            let profile: Vec<f64> = terms_of(case)
                .iter()
                .map(|term| number(&prediction["x"][term]))
                .collect();
            let curve = fit
                .curve(&profile, 0, &numbers(&prediction["time"]))
                .unwrap();
            let column =
                |value: fn(&survival::regression::cox::HazardPoint) -> Option<f64>| -> Vec<f64> {
                    curve
                        .points
                        .iter()
                        .map(|point| value(point).unwrap())
                        .collect()
                };
            assert_all_near(
                name,
                &column(|point| point.estimate),
                &numbers(&prediction["surv"]),
                TOLERANCE,
            );
            assert_all_near(
                name,
                &column(|point| point.std_error),
                &numbers(&prediction["std_err_surv"]),
                TOLERANCE,
            );
            assert_all_near(
                name,
                &column(|point| point.lower),
                &numbers(&prediction["lower_log"]),
                TOLERANCE,
            );
            assert_all_near(
                name,
                &column(|point| point.upper),
                &numbers(&prediction["upper_log"]),
                TOLERANCE,
            );
            n_checked += 1;
        }
    });
    assert!(n_checked >= 4, "{n_checked} curves");
}

#[test]
fn residuals_agree() {
    let mut n_checked = 0;
    for_each_fit(|name, fit, expected, _, _| {
        let first_ten = &expected["residuals_first10"];
        if first_ten.is_null() {
            return;
        }
        let residuals = fit.residuals().unwrap();
        let scalars = |values: &[Option<f64>]| -> Vec<f64> {
            values.iter().take(10).map(|value| value.unwrap()).collect()
        };
        assert_all_near(
            name,
            &scalars(&residuals.martingale),
            &numbers(&first_ten["martingale"]),
            TOLERANCE,
        );
        assert_all_near(
            name,
            &scalars(&residuals.deviance),
            &numbers(&first_ten["deviance"]),
            TOLERANCE,
        );
        for (kind, rows) in [("dfbeta", &residuals.dfbeta), ("score", &residuals.score)] {
            for (row, expected) in rows.iter().zip(first_ten[kind].as_array().unwrap()) {
                assert_all_near(
                    &format!("{name} {kind}"),
                    row.as_ref().unwrap(),
                    &numbers(expected),
                    TOLERANCE,
                );
            }
        }
        let events = fit.event_residuals().unwrap();
        for (event, (plain, scaled)) in events.iter().zip(
            expected["schoenfeld_first10"]
                .as_array()
                .unwrap()
                .iter()
                .zip(expected["scaled_schoenfeld_first10"].as_array().unwrap()),
        ) {
            assert_all_near(
                &format!("{name} event residual"),
                &event.residual,
                &numbers(plain),
                TOLERANCE,
            );
            assert_all_near(
                &format!("{name} scaled event residual"),
                &event.scaled,
                &numbers(scaled),
                TOLERANCE,
            );
        }
        n_checked += 1;
    });
    assert!(n_checked >= 2, "{n_checked} fits");
}

#[test]
fn proportionality_tests_agree_for_four_transforms() {
    let mut n_checked = 0;
    for_each_fit(|name, fit, expected, _, _| {
        for test in expected["ph_test"].as_array().into_iter().flatten() {
            let transform = match test["transform"].as_str().unwrap() {
                "km" => TimeTransform::KaplanMeier,
                "identity" => TimeTransform::Identity,
                "log" => TimeTransform::Log,
                "rank" => TimeTransform::Rank,
                other => panic!("unknown transform {other}"),
            };
            let found = fit.proportionality_test(transform).unwrap();
            let statistics: Vec<f64> = found
                .terms
                .iter()
                .map(|term| term.test.as_ref().unwrap().statistic)
                .chain([found.global.statistic])
                .collect();
            let expected = numbers(&test["chisq"]);
            // with a single term the joint test is the same test and is not always listed
            assert_all_near(
                &format!("{name} {transform:?}"),
                &statistics[..expected.len()],
                &expected,
                TOLERANCE,
            );
            n_checked += 1;
        }
    });
    assert!(n_checked >= 12, "{n_checked} tests");
}

#[test]
fn concordance_of_the_linear_predictor_agrees() {
    for_each_fit(|name, fit, expected, _, _| {
        let values = &expected["concordance"];
        if values.is_null() {
            return;
        }
        check_concordance(name, &fit.concordance(TimeWeight::AtRisk).unwrap(), values);
    });
}

fn for_each_fit(mut check: impl FnMut(&str, &CoxFit, &Value, &Value, &Table)) {
    for case in cases("cox.json")
        .iter()
        .filter(|case| case["method"] == "cox_ph")
    {
        let table = rows_of(case);
        let sample = sample_of(case, &table);
        let covariates = table.covariates(&terms_of(case));
        let strata = case["columns"]["strata"]
            .as_str()
            .map(|column| table.codes(column));
        for expected in case["values"]["fits"].as_array().unwrap() {
            let ties = match expected["ties"].as_str().unwrap() {
                "efron" => Ties::Efron,
                "breslow" => Ties::Breslow,
                "exact" => Ties::Exact,
                other => panic!("unknown ties {other}"),
            };
            let fit = cox(
                &sample,
                &covariates,
                strata.as_deref(),
                &CoxOptions {
                    ties,
                    ..CoxOptions::default()
                },
            )
            .unwrap();
            check(
                &format!("{} {ties:?}", case["id"]),
                &fit,
                expected,
                case,
                &table,
            );
        }
    }
}
