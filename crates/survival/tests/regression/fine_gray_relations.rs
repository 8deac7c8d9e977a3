//! Relations a sub-distribution model must keep, and its edges.

use proptest::prelude::*;
use survival::regression::cox::{CoxOptions, Ties, cox};
use survival::regression::fine_gray::{
    CensoringOrder, FineGrayFit, FineGrayNote, FineGrayOptions, WeightVariance, fine_gray,
};
use survival::regression::{Covariate, Covariates, Estimability};
use survival::{Sample, SurvivalError};

#[derive(Debug, Clone)]
struct Row {
    exit: f64,
    cause: u32,
    treated: f64,
    score: f64,
}

fn rows() -> impl Strategy<Value = Vec<Row>> {
    let row =
        (1_u32..25, 0_u32..3, 0_u32..2, -20_i32..20).prop_map(|(exit, cause, treated, score)| {
            Row {
                exit: f64::from(exit),
                cause,
                treated: f64::from(treated),
                score: f64::from(score) / 10.0,
            }
        });
    prop::collection::vec(row, 30..70)
}

fn sample(rows: &[Row]) -> Sample {
    Sample::new(
        rows.iter().map(|row| row.exit).collect(),
        rows.iter().map(|row| row.cause).collect(),
    )
    .unwrap()
}

fn covariates(rows: &[Row]) -> Covariates {
    let treated = Covariate {
        name: "treated".to_owned(),
        values: rows.iter().map(|row| row.treated).collect(),
    };
    let score = Covariate {
        name: "score".to_owned(),
        values: rows.iter().map(|row| row.score).collect(),
    };
    Covariates::new(rows.len(), vec![treated, score]).unwrap()
}

fn fit(rows: &[Row], sample: &Sample, options: &FineGrayOptions) -> Option<FineGrayFit> {
    fine_gray(sample, &covariates(rows), None, options)
        .ok()
        .filter(|fit| fit.terms.iter().all(|term| term.estimate.is_some()))
}

fn estimates(fit: &FineGrayFit) -> Vec<f64> {
    fit.terms
        .iter()
        .map(|term| term.estimate.unwrap())
        .collect()
}

fn near(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * (1.0 + a.abs().max(b.abs()))
}

fn orders() -> impl Strategy<Value = CensoringOrder> {
    prop_oneof![
        Just(CensoringOrder::EventsFirst),
        Just(CensoringOrder::Together)
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn the_order_of_rows_and_the_unit_of_time_do_not_matter(rows in rows(), order in orders()) {
        let moved: Vec<Row> = rows.iter().rev().map(|row| Row { exit: row.exit / 7.0, ..row.clone() }).collect();
        let options = FineGrayOptions { censoring_order: order, ..FineGrayOptions::default() };
        if let (Some(one), Some(other)) = (fit(&rows, &sample(&rows), &options), fit(&moved, &sample(&moved), &options)) {
            for (a, b) in one.terms.iter().zip(&other.terms) {
                prop_assert!(near(a.estimate.unwrap(), b.estimate.unwrap(), 1e-8));
                prop_assert!(near(a.robust_std_error.unwrap(), b.robust_std_error.unwrap(), 1e-8));
            }
        }
    }

    #[test]
    fn a_row_repeated_equals_a_row_of_weight_two(rows in rows(), order in orders()) {
        let twice: Vec<Row> = rows.iter().chain(rows.iter().filter(|row| row.treated > 0.0)).cloned().collect();
        let weighted = sample(&rows).with_weight(rows.iter().map(|row| 1.0 + row.treated).collect()).unwrap();
        // a row and its copy are one subject
        let subjects = (0..rows.len()).chain((0..rows.len()).filter(|&row| rows[row].treated > 0.0)).map(|row| row as u32).collect();
        let copied = sample(&twice).with_cluster(subjects).unwrap();
        let options = FineGrayOptions { censoring_order: order, ..FineGrayOptions::default() };
        if let (Some(one), Some(other)) = (fit(&twice, &copied, &options), fit(&rows, &weighted, &options)) {
            for (a, b) in one.terms.iter().zip(&other.terms) {
                prop_assert!(near(a.estimate.unwrap(), b.estimate.unwrap(), 1e-8));
                prop_assert!(near(a.robust_std_error.unwrap(), b.robust_std_error.unwrap(), 1e-8));
            }
        }
    }

    #[test]
    fn without_competing_events_it_is_the_proportional_hazards_model(rows in rows(), is_efron in any::<bool>()) {
        let rows: Vec<Row> = rows.into_iter().map(|row| Row { cause: row.cause.min(1), ..row }).collect();
        let ties = if is_efron { Ties::Efron } else { Ties::Breslow };
        let singletons = sample(&rows).with_cluster((0..rows.len() as u32).collect()).unwrap();
        let plain = cox(&singletons, &covariates(&rows), None, &CoxOptions { ties, ..CoxOptions::default() });
        let options = FineGrayOptions { ties, ..FineGrayOptions::default() };
        if let (Some(one), Ok(plain)) = (fit(&rows, &singletons, &options), plain) {
            prop_assert!(one.notes.contains(&FineGrayNote::NothingCompetes));
            for (a, b) in one.terms.iter().zip(&plain.terms) {
                prop_assert!(near(a.estimate.unwrap(), b.estimate.unwrap(), 1e-9));
                prop_assert!(near(a.robust_std_error.unwrap(), b.robust_std_error.unwrap(), 1e-9));
            }
        }
    }

    #[test]
    fn without_censoring_competing_rows_stay_at_risk_for_ever(rows in rows()) {
        let rows: Vec<Row> = rows.into_iter().map(|row| Row { cause: row.cause.max(1), ..row }).collect();
        // the same model: competing rows as censored at a time after all events
        let moved: Vec<Row> =
            rows.iter().map(|row| if row.cause == 2 { Row { exit: 100.0, cause: 0, ..row.clone() } } else { row.clone() }).collect();
        let plain = cox(&sample(&moved), &covariates(&moved), None, &CoxOptions { ties: Ties::Breslow, ..CoxOptions::default() });
        if let (Some(one), Ok(plain)) = (fit(&rows, &sample(&rows), &FineGrayOptions::default()), plain) {
            for (a, b) in one.terms.iter().zip(&plain.terms) {
                prop_assert!(near(a.estimate.unwrap(), b.estimate.unwrap(), 1e-9));
            }
        }
    }

    /// The infinitesimal jackknife from its definition: refit with each case weight moved, the censoring estimate with it.
    #[test]
    fn the_variance_with_estimated_weights_is_the_derivative_in_every_case_weight(rows in rows()) {
        let options = FineGrayOptions::default();
        let Some(whole) = fit(&rows, &sample(&rows), &options) else { return Ok(()) };
        let moved = |row: usize, by: f64| {
            let weight = (0..rows.len()).map(|other| if other == row { 1.0 + by } else { 1.0 }).collect();
            fit(&rows, &sample(&rows).with_weight(weight).unwrap(), &options).map(|fit| estimates(&fit))
        };
        let mut variance = [[0.0; 2]; 2];
        for row in 0..rows.len() {
            let (Some(up), Some(down)) = (moved(row, 1e-4), moved(row, -1e-4)) else { return Ok(()) };
            let slope: Vec<f64> = up.iter().zip(&down).map(|(up, down)| (up - down) / 2e-4).collect();
            for a in 0..2 {
                for b in 0..2 {
                    variance[a][b] += slope[a] * slope[b];
                }
            }
        }
        for (row, expected) in whole.covariance_weights_estimated.as_ref().unwrap().rows.iter().zip(&variance) {
            for (cell, expected) in row.iter().zip(expected) {
                prop_assert!(near(*cell, *expected, 1e-5), "{cell} {expected}");
            }
        }
    }
}

#[test]
fn what_is_not_defined_is_refused_by_name() {
    let x = Covariates::new(
        3,
        vec![Covariate {
            name: "x".into(),
            values: vec![0.0, 1.0, 0.5],
        }],
    )
    .unwrap();
    let plain = Sample::new(vec![1.0, 2.0, 3.0], vec![1, 2, 0]).unwrap();
    let options = FineGrayOptions::default();
    assert!(matches!(
        fine_gray(
            &plain,
            &x,
            None,
            &FineGrayOptions {
                ties: Ties::Exact,
                ..options.clone()
            }
        ),
        Err(SurvivalError::NotDefined { .. })
    ));
    assert!(matches!(
        fine_gray(
            &plain,
            &x,
            None,
            &FineGrayOptions {
                cause: 7,
                ..options.clone()
            }
        ),
        Err(SurvivalError::NoEvents)
    ));
    assert!(matches!(
        fine_gray(
            &plain,
            &x,
            None,
            &FineGrayOptions {
                level: 0.0,
                ..options
            }
        ),
        Err(SurvivalError::LevelOutOfRange)
    ));
}

#[test]
fn separation_and_a_constant_column_leave_no_number_behind() {
    let sample = Sample::new(
        vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0],
        vec![1, 1, 1, 2, 0, 2, 0, 0],
    )
    .unwrap();
    let treated = Covariate {
        name: "treated".into(),
        values: vec![0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0],
    };
    let constant = Covariate {
        name: "constant".into(),
        values: vec![2.0; 8],
    };
    let fit = fine_gray(
        &sample,
        &Covariates::new(8, vec![treated, constant]).unwrap(),
        None,
        &FineGrayOptions::default(),
    )
    .unwrap();
    assert_eq!(fit.terms[0].estimability, Estimability::FallsWithoutBound);
    assert_eq!(fit.terms[1].estimability, Estimability::Redundant);
    assert!(
        fit.terms
            .iter()
            .all(|term| term.estimate.is_none() && term.robust_std_error.is_none())
    );
    assert_eq!(fit.wald_test, None);
    assert_eq!(fit.baseline(), Err(SurvivalError::NoFiniteEstimate));
}

#[test]
fn the_terms_carry_the_variance_asked_for() {
    let sample = Sample::new(
        vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0],
        vec![1, 0, 2, 1, 0, 2, 1, 0],
    )
    .unwrap();
    let x = Covariates::new(
        8,
        vec![Covariate {
            name: "x".into(),
            values: vec![0.3, 0.1, 0.9, 0.4, 0.2, 0.8, 0.6, 0.5],
        }],
    )
    .unwrap();
    let fit = |weight_variance| {
        fine_gray(
            &sample,
            &x,
            None,
            &FineGrayOptions {
                weight_variance,
                ..FineGrayOptions::default()
            },
        )
        .unwrap()
    };
    let (known, estimated) = (fit(WeightVariance::Known), fit(WeightVariance::Estimated));
    let error = |fit: &FineGrayFit| fit.terms[0].robust_std_error.unwrap();
    assert!((error(&known).powi(2) - known.covariance_weights_known.rows[0][0]).abs() < 1e-14);
    assert!(
        (error(&estimated).powi(2)
            - known.covariance_weights_estimated.as_ref().unwrap().rows[0][0])
            .abs()
            < 1e-14
    );
    assert!(error(&known) != error(&estimated));
}

/// R survival 3.5-3 gives the earlier rows no weight here (0/0) and fits without them.
#[test]
fn a_row_that_enters_when_everybody_has_left_changes_no_coefficient() {
    let exit = vec![2.0, 3.0, 3.0, 4.0, 5.0, 6.0, 7.0, 7.0, 9.0, 20.0];
    let cause = vec![2, 1, 2, 0, 1, 2, 1, 1, 0, 2];
    let entry = vec![0.0, 0.0, 1.0, 0.0, 2.0, 0.0, 3.0, 0.0, 1.0, 15.0];
    let x = vec![0.3, 0.9, -0.4, 0.1, 0.7, -0.2, 0.5, -0.6, 0.0, 1.2];
    let first = |n: usize| {
        let sample = Sample::new(exit[..n].to_vec(), cause[..n].to_vec()).unwrap();
        let sample = sample.with_entry(entry[..n].to_vec()).unwrap();
        let values = x[..n].to_vec();
        let covariate = Covariate {
            name: "x".into(),
            values,
        };
        let covariates = Covariates::new(n, vec![covariate]).unwrap();
        let fit = fine_gray(&sample, &covariates, None, &FineGrayOptions::default()).unwrap();
        fit.terms[0].estimate.unwrap()
    };
    assert!((first(10) - first(9)).abs() < 1e-9);
}

#[test]
fn a_competing_event_before_a_gap_and_an_event_after_it_are_refused_by_name() {
    let sample = Sample::new(vec![2.0, 3.0, 4.0, 9.0, 10.0], vec![2, 1, 0, 1, 0]).unwrap();
    let sample = sample.with_entry(vec![0.0, 0.0, 0.0, 6.0, 7.0]).unwrap();
    let x = Covariate {
        name: "x".into(),
        values: vec![0.0, 1.0, 0.5, 0.2, 0.9],
    };
    let covariates = Covariates::new(5, vec![x]).unwrap();
    let refused = fine_gray(&sample, &covariates, None, &FineGrayOptions::default());
    assert!(matches!(refused, Err(SurvivalError::RiskSetEmpties)));
}
