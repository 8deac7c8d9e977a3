//! Every case of `reference/expected/fg.json`: sub-distribution hazard models by two general-purpose libraries, named there.

use serde_json::Value;
use survival::Sample;
use survival::regression::cox::Ties;
use survival::regression::fine_gray::{CensoringOrder, FineGrayFit, FineGrayOptions, fine_gray};
use survival::regression::{Covariate, Covariates};

use crate::support::{
    assert_all_near, assert_near, cases, number, numbers, rows_of, sample_of, terms_of,
};

const TOLERANCE: f64 = 1e-6;

fn fit_of(case: &Value, ties: Ties, censoring_order: CensoringOrder) -> FineGrayFit {
    let table = rows_of(case);
    let cause = case["options"]["cause"].as_u64().unwrap() as u32;
    let options = FineGrayOptions {
        cause,
        ties,
        censoring_order,
        ..FineGrayOptions::default()
    };
    fine_gray(
        &sample_of(case, &table),
        &table.covariates(&terms_of(case)),
        None,
        &options,
    )
    .unwrap()
}

fn estimates(fit: &FineGrayFit) -> Vec<f64> {
    fit.terms
        .iter()
        .map(|term| term.estimate.unwrap())
        .collect()
}

fn assert_matrix(name: &str, found: &[Vec<f64>], expected: &Value) {
    for (row, expected) in found.iter().zip(expected.as_array().unwrap()) {
        assert_all_near(name, row, &numbers(expected), TOLERANCE);
    }
}

/// The rows written out with their weights, and the robust variance with weights as known: events come before censorings.
#[test]
fn weighted_rows_give_the_same_coefficients_and_robust_variance() {
    for case in cases("fg.json") {
        for (key, ties) in [
            ("finegray_coxph_breslow", Ties::Breslow),
            ("finegray_coxph_efron", Ties::Efron),
        ] {
            let name = format!("{} {key}", case["id"]);
            let expected = &case["values"][key];
            let fit = fit_of(&case, ties, CensoringOrder::EventsFirst);
            assert_eq!(fit.n as u64, case["values"]["n"].as_u64().unwrap());
            assert_eq!(
                fit.n_events as u64,
                case["values"]["events"].as_u64().unwrap()
            );
            assert_all_near(
                &name,
                &estimates(&fit),
                &numbers(&expected["coef"]),
                TOLERANCE,
            );
            let errors: Vec<f64> = fit
                .terms
                .iter()
                .map(|term| term.std_error.unwrap())
                .collect();
            assert_all_near(&name, &errors, &numbers(&expected["naive_se"]), TOLERANCE);
            assert_matrix(
                &format!("{name} robust"),
                &fit.covariance_weights_known.rows,
                &expected["robust_variance"],
            );
            assert_near(&name, fit.log_likelihood, number(&expected["loglik"]), 1e-9);
            assert_near(
                &name,
                fit.log_likelihood_null,
                number(&expected["loglik_null"]),
                1e-9,
            );
        }
    }
}

/// The original software: its order of censorings and events, and the variance with the estimated censoring distribution.
#[test]
fn the_original_order_gives_the_same_coefficients_baseline_and_incidence() {
    for case in cases("fg.json") {
        let name = case["id"].as_str().unwrap();
        let expected = &case["values"]["crr"];
        let fit = fit_of(&case, Ties::Breslow, CensoringOrder::Together);
        assert_all_near(
            name,
            &estimates(&fit),
            &numbers(&expected["coef"]),
            TOLERANCE,
        );
        assert_near(name, fit.log_likelihood, number(&expected["loglik"]), 1e-9);
        if case["columns"]["cluster"].is_null() {
            assert_matrix(
                &format!("{name} variance"),
                &fit.covariance_weights_estimated.as_ref().unwrap().rows,
                &expected["variance"],
            );
        }
        let baseline = fit.baseline().unwrap();
        let jumps = &expected["baseline_subdist_cumhaz"];
        for (time, hazard) in numbers(&jumps["time"])
            .iter()
            .zip(numbers(&jumps["cumhaz"]))
        {
            let found = baseline
                .iter()
                .rev()
                .find(|step| step.time <= *time)
                .unwrap();
            assert_near(
                &format!("{name} baseline at {time}"),
                found.cumulative_hazard,
                hazard,
                TOLERANCE,
            );
        }
        for prediction in expected["predicted_cif"].as_array().into_iter().flatten() {
            let profile: Vec<f64> = terms_of(&case)
                .iter()
                .map(|term| number(&prediction["x"][term]))
                .collect();
            let found = fit
                .incidence(&profile, 0, &numbers(&prediction["time"]))
                .unwrap();
            let found: Vec<f64> = found.iter().map(|point| point.estimate.unwrap()).collect();
            assert_all_near(name, &found, &numbers(&prediction["cif"]), TOLERANCE);
        }
    }
}

/// R survival 3.5-3, weights by its `finegray` and the fit by its `coxph` with Breslow ties; made by
/// `tests/scripts/fine_gray_delayed_entry.R`.
#[test]
fn delayed_entry_and_strata_agree_with_weights_made_elsewhere() {
    let text = include_str!("../reference/data/fine_gray_delayed_entry.csv");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    let column = |place: usize| rows.iter().map(|row| row[place]).collect::<Vec<f64>>();
    let codes = |place: usize| {
        column(place)
            .iter()
            .map(|&code| code as u32)
            .collect::<Vec<u32>>()
    };
    let sample = Sample::new(column(1), codes(2))
        .unwrap()
        .with_entry(column(0))
        .unwrap();
    let covariates = |places: &[usize]| {
        let covariates = places.iter().map(|&place| Covariate {
            name: format!("column {place}"),
            values: column(place),
        });
        Covariates::new(rows.len(), covariates.collect()).unwrap()
    };
    let options = FineGrayOptions::default();
    let of = |fit: FineGrayFit| -> Vec<(f64, f64)> {
        let terms = fit.terms.iter();
        terms
            .map(|term| (term.estimate.unwrap(), term.robust_std_error.unwrap()))
            .collect()
    };
    let plain = of(fine_gray(&sample, &covariates(&[3, 4]), None, &options).unwrap());
    let stratified = of(fine_gray(&sample, &covariates(&[3]), Some(&codes(4)), &options).unwrap());
    let expected = [
        (plain[0], (0.538_727_744_11, 0.090_682_673_35)),
        (plain[1], (0.068_669_506_77, 0.176_894_450_44)),
        (stratified[0], (0.540_688_058_1, 0.092_144_824_48)),
    ];
    for (found, expected) in expected {
        assert!(
            (found.0 - expected.0).abs() < 1e-8,
            "{found:?} {expected:?}"
        );
        assert!(
            (found.1 - expected.1).abs() < 1e-8,
            "{found:?} {expected:?}"
        );
    }
}
