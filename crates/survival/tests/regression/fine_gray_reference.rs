//! Every case of `reference/expected/fg.json`: sub-distribution hazard models by two general-purpose libraries, named there.

use serde_json::Value;
use survival::Sample;
use survival::regression::cox::Ties;
use survival::regression::fine_gray::{
    CensoringOrder, FineGrayFit, FineGrayOptions, WeightVariance, fine_gray,
};
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

/// R survival 3.5-3: `finegray`, `coxph` with Breslow ties and rows as clusters, `survfit`; made by
/// `tests/scripts/fine_gray_incidence.R`.
#[test]
fn errors_and_limits_of_a_predicted_incidence_agree_with_weights_made_elsewhere() {
    let text = include_str!("../reference/data/melanoma.csv");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    let column = |place: usize| rows.iter().map(|row| row[place]).collect::<Vec<f64>>();
    let causes = column(1).iter().map(|&cause| cause as u32).collect();
    let sample = Sample::new(column(0), causes).unwrap();
    let covariates = [("age", 3), ("ulcer", 6)].map(|(name, place)| Covariate {
        name: name.to_owned(),
        values: column(place),
    });
    let covariates = Covariates::new(rows.len(), covariates.to_vec()).unwrap();
    let options = FineGrayOptions {
        weight_variance: WeightVariance::Known,
        ..FineGrayOptions::default()
    };
    let fit = fine_gray(&sample, &covariates, None, &options).unwrap();
    // time, incidence, standard error, lower and upper limit
    let expected = [
        [
            500.0,
            0.078_940_994_731,
            0.025_844_435_087,
            0.041_254_149_428,
            0.148_286_651_751,
        ],
        [
            1000.0,
            0.226_451_686_710,
            0.042_019_332_027,
            0.156_010_210_777,
            0.322_062_637_529,
        ],
        [
            2000.0,
            0.397_359_980_488,
            0.052_134_101_910,
            0.303_957_209_159,
            0.507_285_876_906,
        ],
        [
            3000.0,
            0.520_615_203_412,
            0.060_995_629_717,
            0.407_711_327_415,
            0.643_756_350_867,
        ],
    ];
    let times = expected.map(|line| line[0]);
    let found = fit.incidence(&[60.0, 1.0], 0, &times).unwrap();
    for (point, line) in found.iter().zip(&expected) {
        let values = [point.estimate, point.std_error, point.lower, point.upper];
        for (value, expected) in values.iter().zip(&line[1..]) {
            let value = value.unwrap();
            assert!((value - expected).abs() < 1e-9, "{value} {expected}");
        }
    }
    let [before, after] = [0.5, 1e6].map(|time| fit.incidence(&[60.0, 1.0], 0, &[time]).unwrap());
    assert_eq!(
        (before[0].estimate, before[0].std_error, before[0].lower),
        (Some(0.0), Some(0.0), None)
    );
    assert_eq!((after[0].estimate, after[0].std_error), (None, None));
}
