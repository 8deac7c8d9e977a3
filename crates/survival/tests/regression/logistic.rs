//! Logistic models, calibration and discrimination: against `reference/expected/logistic.json`, made by
//! `scripts/logistic_reference.R` with base R, by hand, and at the edges.

use proptest::prelude::*;
use serde_json::Value;
use survival::SurvivalError;
use survival::regression::{
    BinaryOutcomes, Covariate, Covariates, Estimability, LogisticFit, LogisticNote,
    LogisticOptions, Penalty, c_statistic, calibration, logistic,
};

use crate::support::{Table, assert_all_near, assert_near, number, numbers, reference};

const TOLERANCE: f64 = 1e-8;
const TERMS: [&str; 3] = ["trt", "age", "risk"];

fn expected() -> Value {
    reference("logistic.json")
}

fn outcomes_of(table: &Table) -> BinaryOutcomes {
    BinaryOutcomes::new(
        table
            .numbers("status")
            .iter()
            .map(|&status| status == 1.0)
            .collect(),
    )
    .unwrap()
}

fn estimates(fit: &LogisticFit) -> Vec<f64> {
    fit.terms
        .iter()
        .map(|term| term.estimate.unwrap())
        .collect()
}

fn errors(fit: &LogisticFit) -> Vec<f64> {
    fit.terms
        .iter()
        .map(|term| term.std_error.unwrap())
        .collect()
}

fn firth() -> LogisticOptions {
    LogisticOptions {
        penalty: Penalty::Firth,
        ..LogisticOptions::default()
    }
}

fn one(values: &[f64]) -> Covariates {
    Covariates::new(
        values.len(),
        vec![Covariate {
            name: "x".into(),
            values: values.to_vec(),
        }],
    )
    .unwrap()
}

/// The same predictions as the reference script makes.
fn predictions(table: &Table) -> Vec<f64> {
    let (age, risk, treated) = (
        table.numbers("age"),
        table.numbers("risk"),
        table.numbers("trt"),
    );
    (0..table.n_rows)
        .map(|row| {
            1.0 / (1.0 + (1.5 - 0.02 * age[row] - 0.1 * risk[row] + 1.2 * treated[row]).exp())
        })
        .collect()
}

#[test]
fn coefficients_and_both_variances_agree() {
    let (expected, table) = (expected(), Table::read("diabetic.csv"));
    let outcomes = outcomes_of(&table).with_cluster(table.codes("id")).unwrap();
    let fit = logistic(
        &outcomes,
        &table.covariates(&TERMS),
        &LogisticOptions::default(),
    )
    .unwrap();
    assert_all_near(
        "coefficients",
        &estimates(&fit),
        &numbers(&expected["coef"]),
        TOLERANCE,
    );
    for (matrix, key) in [
        (&fit.covariance, "variance"),
        (fit.robust_covariance.as_ref().unwrap(), "robust_variance"),
    ] {
        for (row, expected) in matrix.rows.iter().zip(expected[key].as_array().unwrap()) {
            assert_all_near(key, row, &numbers(expected), TOLERANCE);
        }
    }
    assert_near(
        "log likelihood",
        fit.log_likelihood,
        number(&expected["loglik"]),
        1e-10,
    );
    assert_near(
        "null log likelihood",
        fit.log_likelihood_null,
        number(&expected["loglik_null"]),
        1e-10,
    );
    // the fitted values add up to the events, as they must with an intercept
    assert!((fit.fitted.iter().sum::<f64>() - fit.n_events as f64).abs() < 1e-8);
}

#[test]
fn weighted_coefficients_agree() {
    let (expected, table) = (expected(), Table::read("diabetic.csv"));
    let weight = table
        .numbers("id")
        .iter()
        .map(|id| 1.0 + id % 3.0)
        .collect();
    let fit = logistic(
        &outcomes_of(&table).with_weight(weight).unwrap(),
        &table.covariates(&TERMS),
        &LogisticOptions::default(),
    )
    .unwrap();
    assert_all_near(
        "coefficients",
        &estimates(&fit),
        &numbers(&expected["weighted_coef"]),
        TOLERANCE,
    );
    assert_all_near(
        "errors",
        &errors(&fit),
        &numbers(&expected["weighted_se"]),
        TOLERANCE,
    );
}

#[test]
fn penalised_coefficients_agree() {
    let (expected, table) = (expected(), Table::read("diabetic.csv"));
    let id = table.numbers("id");
    let table = table.keep(|row| id[row] < 250.0);
    let fit = logistic(&outcomes_of(&table), &table.covariates(&TERMS), &firth()).unwrap();
    assert_all_near(
        "coefficients",
        &estimates(&fit),
        &numbers(&expected["firth_coef"]),
        TOLERANCE,
    );
    assert_all_near(
        "errors",
        &errors(&fit),
        &numbers(&expected["firth_se"]),
        TOLERANCE,
    );
    assert_near(
        "log likelihood",
        fit.log_likelihood,
        number(&expected["firth_loglik"]),
        1e-10,
    );
}

#[test]
fn calibration_agrees() {
    let (expected, table) = (expected(), Table::read("diabetic.csv"));
    let found = calibration(&outcomes_of(&table), &predictions(&table), 0.95).unwrap();
    let large = [
        found.in_the_large.estimate.unwrap(),
        found.in_the_large.std_error.unwrap(),
    ];
    assert_all_near(
        "in the large",
        &large,
        &numbers(&expected["in_the_large"]),
        TOLERANCE,
    );
    let terms = [
        found.intercept.estimate.unwrap(),
        found.slope.estimate.unwrap(),
    ];
    assert_all_near(
        "line",
        &terms,
        &numbers(&expected["calibration"]),
        TOLERANCE,
    );
    let errors = [
        found.intercept.std_error.unwrap(),
        found.slope.std_error.unwrap(),
    ];
    assert_all_near(
        "line errors",
        &errors,
        &numbers(&expected["calibration_se"]),
        TOLERANCE,
    );
    assert_near(
        "expected",
        found.expected,
        number(&expected["expected"]),
        1e-12,
    );
    assert_near(
        "brier",
        found.brier_score,
        number(&expected["brier"]),
        1e-12,
    );
    assert_eq!(found.observed, 155.0);
}

#[test]
fn discrimination_agrees_with_the_count_over_all_pairs() {
    let (expected, table) = (expected(), Table::read("diabetic.csv"));
    let outcomes = outcomes_of(&table);
    let found = c_statistic(&outcomes, &predictions(&table))
        .unwrap()
        .unwrap();
    assert_near("c", found.estimate, number(&expected["c"]), 1e-12);
    assert_near("error", found.std_error, number(&expected["c_se"]), 1e-12);
    let clustered = c_statistic(
        &outcomes.with_cluster(table.codes("id")).unwrap(),
        &predictions(&table),
    )
    .unwrap()
    .unwrap();
    assert_near(
        "clustered error",
        clustered.std_error,
        number(&expected["c_se_clustered"]),
        1e-12,
    );
}

#[test]
fn the_model_calibrates_itself_perfectly() {
    let table = Table::read("diabetic.csv");
    let outcomes = outcomes_of(&table);
    let fit = logistic(
        &outcomes,
        &table.covariates(&TERMS),
        &LogisticOptions::default(),
    )
    .unwrap();
    let found = calibration(&outcomes, &fit.fitted, 0.95).unwrap();
    assert!(found.in_the_large.estimate.unwrap().abs() < 1e-9);
    assert!((found.slope.estimate.unwrap() - 1.0).abs() < 1e-9);
}

/// A two by two table of 3 and 1 against 0 and 4: the penalty adds a half to each cell (Firth 1993), ln (3.5 4.5)/(1.5 0.5).
#[test]
fn an_empty_cell_separates_plainly_and_gets_a_half_with_the_penalty() {
    let outcomes =
        BinaryOutcomes::new(vec![true, true, true, false, false, false, false, false]).unwrap();
    let x = one(&[1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0]);
    let plain = logistic(&outcomes, &x, &LogisticOptions::default()).unwrap();
    // nobody without x has the outcome: the intercept falls, the slope grows
    assert_eq!(plain.terms[0].estimability, Estimability::FallsWithoutBound);
    assert_eq!(plain.terms[1].estimability, Estimability::GrowsWithoutBound);
    assert!(plain.terms.iter().all(|term| term.estimate.is_none()));
    assert_eq!(plain.notes.len(), 2);
    assert!(plain.probability(&[1.0]).is_err());
    // the likelihood has a limit: 3 ln 3/4 + ln 1/4
    assert!((plain.log_likelihood - (3.0 * 0.75_f64.ln() + 0.25_f64.ln())).abs() < 1e-7);
    let penalised = logistic(&outcomes, &x, &firth()).unwrap();
    assert!(
        (penalised.terms[1].estimate.unwrap() - (3.5_f64 * 4.5 / (1.5 * 0.5)).ln()).abs() < 1e-9
    );
    assert!((penalised.terms[0].estimate.unwrap() - (0.5_f64 / 4.5).ln()).abs() < 1e-9);
}

/// With one column of two values the penalty adds a half to each cell whatever the rows weigh (Firth 1993): rows that weigh next to
/// nothing, one without weight, and cells that are empty.
#[test]
fn rows_of_little_weight_settle_with_the_penalty() {
    // weights of: with x and outcome, with x only, outcome only, neither
    for [a, b, c, d] in [
        [0.2, 0.0, 0.1, 0.05],
        [0.001, 0.0, 0.0, 0.002],
        [1e-6, 2e-6, 0.0, 1e-6],
        [0.03, 0.0, 40.0, 0.25],
    ] {
        let outcomes = BinaryOutcomes::new(vec![true, false, true, false])
            .and_then(|outcomes| outcomes.with_weight(vec![a, b, c, d]))
            .unwrap();
        let fit = logistic(&outcomes, &one(&[1.0, 1.0, 0.0, 0.0]), &firth()).unwrap();
        let expected = ((a + 0.5) * (d + 0.5) / ((b + 0.5) * (c + 0.5))).ln();
        let found = fit.terms[1].estimate.unwrap();
        assert!((found - expected).abs() < 1e-9, "{found} {expected}");
    }
}

/// A ridge that is almost flat: coefficients of a plain maximiser (scipy 1.17, `tests/scripts/firth_tiny_tables.py`, table 203 of seed 1).
#[test]
fn a_flat_ridge_is_followed_to_its_top() {
    let outcome = [true, true, false, true, true, true, false];
    let weight = vec![10.0, 0.25, 1.0, 1.0, 0.25, 10.0, 3.0];
    let columns = [
        ("x0", [0.0, 0.0, 2.0, 2.0, 1.0, 0.0, 0.0]),
        ("x1", [1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 2.0]),
    ];
    let outcomes = BinaryOutcomes::new(outcome.to_vec())
        .and_then(|outcomes| outcomes.with_weight(weight))
        .unwrap();
    let columns = columns.map(|(name, values)| Covariate {
        name: name.to_owned(),
        values: values.to_vec(),
    });
    let covariates = Covariates::new(7, columns.to_vec()).unwrap();
    let fit = logistic(&outcomes, &covariates, &firth()).unwrap();
    let found: Vec<f64> = fit.terms.iter().filter_map(|term| term.estimate).collect();
    for (found, expected) in found.iter().zip([7.307524, -2.656614, -4.503162]) {
        assert!((found - expected).abs() < 1e-5, "{found} {expected}");
    }
}

/// With the coding turned round the intercept belongs to the group that has both outcomes, and stays.
#[test]
fn separation_leaves_what_is_finite() {
    let outcomes =
        BinaryOutcomes::new(vec![true, true, true, false, false, false, false, false]).unwrap();
    let fit = logistic(
        &outcomes,
        &one(&[0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0]),
        &LogisticOptions::default(),
    )
    .unwrap();
    assert!((fit.terms[0].estimate.unwrap() - 3.0_f64.ln()).abs() < 1e-6);
    // 1/3 + 1/1
    assert!((fit.terms[0].std_error.unwrap() - (4.0_f64 / 3.0).sqrt()).abs() < 1e-6);
    assert_eq!(fit.terms[1].estimability, Estimability::FallsWithoutBound);
}

#[test]
fn a_repeated_column_is_named() {
    let outcomes = BinaryOutcomes::new(vec![true, false, true, false, false]).unwrap();
    let values = vec![1.0, 2.0, 4.0, 3.0, 2.5];
    let twice = values.iter().map(|x| 2.0 * x + 1.0).collect();
    let both = vec![
        Covariate {
            name: "x".into(),
            values: values.clone(),
        },
        Covariate {
            name: "twice".into(),
            values: twice,
        },
    ];
    let fit = logistic(
        &outcomes,
        &Covariates::new(5, both).unwrap(),
        &LogisticOptions::default(),
    )
    .unwrap();
    let alone = logistic(&outcomes, &one(&values), &LogisticOptions::default()).unwrap();
    assert_eq!(
        fit.notes,
        vec![LogisticNote::Redundant {
            term: "twice".into()
        }]
    );
    assert!((fit.terms[0].estimate.unwrap() - alone.terms[0].estimate.unwrap()).abs() < 1e-9);
    assert_eq!(fit.likelihood_ratio_test.map(|test| test.df), Some(1));
}

#[test]
fn bad_input_is_refused_by_name() {
    let alike = BinaryOutcomes::new(vec![true, true]).unwrap();
    assert_eq!(
        logistic(&alike, &one(&[0.0, 1.0]), &LogisticOptions::default()).err(),
        Some(SurvivalError::OneOutcomeOnly)
    );
    assert_eq!(c_statistic(&alike, &[0.1, 0.2]), Ok(None));
    assert_eq!(
        BinaryOutcomes::new(vec![]).err(),
        Some(SurvivalError::NoRows)
    );
    let both = BinaryOutcomes::new(vec![true, false]).unwrap();
    assert!(matches!(
        logistic(&both, &one(&[0.0]), &LogisticOptions::default()),
        Err(SurvivalError::UnequalColumns { .. })
    ));
    assert!(matches!(
        calibration(&both, &[0.5, 1.0], 0.95),
        Err(SurvivalError::NotAProbability { row: 2, .. })
    ));
    assert!(matches!(
        c_statistic(&both, &[0.5, f64::NAN]),
        Err(SurvivalError::NotFinite { row: 2, .. })
    ));
    assert!(matches!(
        both.with_weight(vec![0.0, 0.0]),
        Err(SurvivalError::NoWeight)
    ));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn a_row_repeated_equals_a_row_of_weight_two(rows in prop::collection::vec((any::<bool>(), -20_i32..20), 10..50), is_penalised in any::<bool>()) {
        let options = if is_penalised { firth() } else { LogisticOptions::default() };
        let x: Vec<f64> = rows.iter().map(|row| f64::from(row.1) / 10.0).collect();
        let outcomes = BinaryOutcomes::new(rows.iter().map(|row| row.0).collect()).unwrap();
        let weighted = logistic(&outcomes.with_weight(vec![2.0; rows.len()]).unwrap(), &one(&x), &options);
        let twice: Vec<f64> = x.iter().chain(&x).copied().collect();
        let copied = BinaryOutcomes::new(rows.iter().chain(&rows).map(|row| row.0).collect()).unwrap();
        if let (Ok(weighted), Ok(copied)) = (weighted, logistic(&copied, &one(&twice), &options)) {
            for (a, b) in weighted.terms.iter().zip(&copied.terms) {
                prop_assert_eq!(a.estimability, b.estimability);
                if let (Some(a), Some(b)) = (a.estimate, b.estimate) {
                    prop_assert!((a - b).abs() < 1e-7 * (1.0 + a.abs()));
                }
            }
        }
    }

    #[test]
    fn turning_the_outcome_round_turns_the_signs_round(rows in prop::collection::vec((any::<bool>(), -20_i32..20), 10..50), is_penalised in any::<bool>()) {
        let options = if is_penalised { firth() } else { LogisticOptions::default() };
        let x: Vec<f64> = rows.iter().map(|row| f64::from(row.1) / 10.0).collect();
        let one_way = logistic(&BinaryOutcomes::new(rows.iter().map(|row| row.0).collect()).unwrap(), &one(&x), &options);
        let other_way = logistic(&BinaryOutcomes::new(rows.iter().map(|row| !row.0).collect()).unwrap(), &one(&x), &options);
        if let (Ok(one_way), Ok(other_way)) = (one_way, other_way) {
            for (a, b) in one_way.terms.iter().zip(&other_way.terms) {
                if let (Some(a), Some(b)) = (a.estimate, b.estimate) {
                    prop_assert!((a + b).abs() < 1e-7 * (1.0 + a.abs()));
                }
            }
        }
    }
}
