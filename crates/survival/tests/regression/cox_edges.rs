//! Proportional hazards at the edges of what can be estimated.

use survival::regression::cox::{CoxNote, CoxOptions, EmptiedRiskSets, Ties, TimeTransform, cox};
use survival::regression::{Covariate, Covariates, Estimability};
use survival::{Sample, SurvivalError};

use crate::support::{freireich, freireich_control};

fn one(name: &str, values: Vec<f64>) -> Covariates {
    Covariates::new(
        values.len(),
        vec![Covariate {
            name: name.to_owned(),
            values,
        }],
    )
    .unwrap()
}

fn with_ties(ties: Ties) -> CoxOptions {
    CoxOptions {
        ties,
        ..CoxOptions::default()
    }
}

#[test]
fn separation_is_named_and_leaves_no_number_behind() {
    // all events among the untreated, and each before any treated row leaves
    let sample = Sample::new(vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0], vec![1, 1, 1, 0, 0, 0]).unwrap();
    let treated = Covariate {
        name: "treated".into(),
        values: vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0],
    };
    let age = Covariate {
        name: "age".into(),
        values: vec![60.0, 55.0, 62.0, 58.0, 61.0, 57.0],
    };
    for ties in [Ties::Efron, Ties::Breslow, Ties::Exact] {
        let fit = cox(
            &sample,
            &Covariates::new(6, vec![treated.clone(), age.clone()]).unwrap(),
            None,
            &with_ties(ties),
        )
        .unwrap();
        let term = &fit.terms[0];
        assert_eq!(term.estimability, Estimability::FallsWithoutBound);
        assert_eq!(
            (term.estimate, term.std_error, term.lower, term.p_value),
            (None, None, None, None)
        );
        assert!(
            fit.terms[1]
                .estimate
                .is_some_and(|estimate| estimate.abs() < 10.0)
        );
        assert!(fit.notes.contains(&CoxNote::Separation {
            term: "treated".into()
        }));
        assert_eq!(fit.wald_test, None);
        assert_eq!(fit.likelihood_ratio_test.df, 2);
        assert!(fit.baseline().is_err());
    }
}

#[test]
fn a_constant_and_a_repeated_column_are_named_and_the_rest_is_the_model_without_them() {
    let sample = freireich();
    let control = Covariate {
        name: "control".into(),
        values: freireich_control(),
    };
    let constant = Covariate {
        name: "constant".into(),
        values: vec![0.1; 42],
    };
    let twice = Covariate {
        name: "twice".into(),
        values: freireich_control().iter().map(|x| 3.0 - 2.0 * x).collect(),
    };
    let all = Covariates::new(42, vec![constant, control.clone(), twice]).unwrap();
    let fit = cox(&sample, &all, None, &CoxOptions::default()).unwrap();
    let alone = cox(
        &sample,
        &Covariates::new(42, vec![control]).unwrap(),
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    let states: Vec<Estimability> = fit.terms.iter().map(|term| term.estimability).collect();
    assert_eq!(
        states,
        vec![
            Estimability::Redundant,
            Estimability::Estimated,
            Estimability::Redundant
        ]
    );
    assert!((fit.terms[1].estimate.unwrap() - alone.terms[0].estimate.unwrap()).abs() < 1e-12);
    assert_eq!(fit.likelihood_ratio_test.df, 1);
    assert_eq!(fit.notes.len(), 2);
    // the redundant columns take no part in a prediction either
    let ours = fit.curve(&[0.1, 1.0, 1.0], 0, &[10.0]).unwrap();
    let theirs = alone.curve(&[1.0], 0, &[10.0]).unwrap();
    assert!((ours.points[0].estimate.unwrap() - theirs.points[0].estimate.unwrap()).abs() < 1e-12);
}

#[test]
fn a_covariate_that_only_differs_between_strata_is_redundant() {
    let sample = Sample::new(vec![1.0, 2.0, 3.0, 4.0], vec![1, 1, 1, 1]).unwrap();
    let fit = cox(
        &sample,
        &one("site", vec![0.0, 0.0, 1.0, 1.0]),
        Some(&[5, 5, 9, 9]),
        &CoxOptions::default(),
    )
    .unwrap();
    assert_eq!(fit.terms[0].estimability, Estimability::Redundant);
    let labels: Vec<u32> = fit
        .baseline()
        .unwrap()
        .iter()
        .map(|baseline| baseline.stratum)
        .collect();
    assert_eq!(labels, vec![5, 9]);
}

#[test]
fn bad_input_is_refused_by_name() {
    let sample = Sample::new(vec![1.0, 2.0], vec![1, 0]).unwrap();
    let options = CoxOptions::default();
    let fine = one("x", vec![0.0, 1.0]);
    assert_eq!(
        cox(
            &Sample::new(vec![1.0, 2.0], vec![0, 0]).unwrap(),
            &fine,
            None,
            &options
        )
        .err(),
        Some(SurvivalError::NoEvents)
    );
    assert!(matches!(
        cox(&sample, &one("x", vec![0.0]), None, &options),
        Err(SurvivalError::UnequalColumns { .. })
    ));
    assert!(matches!(
        cox(&sample, &fine, Some(&[1]), &options),
        Err(SurvivalError::UnequalColumns { .. })
    ));
    assert!(matches!(
        cox(
            &sample,
            &fine,
            None,
            &CoxOptions {
                level: 1.0,
                ..options.clone()
            }
        ),
        Err(SurvivalError::LevelOutOfRange)
    ));
    let missing = Covariate {
        name: "age".into(),
        values: vec![1.0, f64::NAN],
    };
    assert_eq!(
        Covariates::new(2, vec![missing]).err(),
        Some(SurvivalError::CovariateNotFinite {
            term: "age".into(),
            row: 2
        })
    );
    let weighted = sample.with_weight(vec![1.0, 2.0]).unwrap();
    assert!(matches!(
        cox(&weighted, &fine, None, &with_ties(Ties::Exact)),
        Err(SurvivalError::NotDefined { .. })
    ));
}

#[test]
fn the_logarithm_of_time_is_refused_with_an_event_at_time_zero() {
    let sample = Sample::new(vec![0.0, 1.0, 2.0, 3.0], vec![1, 1, 1, 0]).unwrap();
    let fit = cox(
        &sample,
        &one("x", vec![0.3, 0.1, 0.9, 0.2]),
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    assert_eq!(fit.n_events, 3);
    assert!(fit.proportionality_test(TimeTransform::Log).is_err());
    assert!(fit.proportionality_test(TimeTransform::Identity).is_ok());
}

#[test]
fn rows_never_at_risk_are_counted_in_a_note_and_nowhere_else() {
    let sample = Sample::new(vec![1.0, 2.0, 3.0, 2.0], vec![1, 1, 0, 0])
        .unwrap()
        .with_entry(vec![0.0, 0.0, 0.0, 2.0])
        .unwrap();
    let fit = cox(
        &sample,
        &one("x", vec![0.0, 1.0, 0.0, 5.0]),
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    assert_eq!(fit.n, 3);
    assert_eq!(fit.notes, vec![CoxNote::NeverAtRisk { n_rows: 1 }]);
    assert_eq!(fit.residuals().unwrap().martingale[3], None);
}

/// Rows of huge risk that leave early must not leave rounding behind in the sums of those that stay.
#[test]
fn a_risk_set_that_loses_almost_all_its_risk_keeps_its_digits() {
    let mut exit = vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let mut entry = vec![0.0; 6];
    let mut weight = vec![1.0; 6];
    let mut x = vec![0.2, 0.9, 0.4, 0.1, 0.7, 0.3];
    let mut cause = vec![1; 6];
    let plain = Sample::new(exit.clone(), cause.clone())
        .unwrap()
        .with_weight(weight.clone())
        .unwrap();
    let alone = cox(&plain, &one("x", x.clone()), None, &CoxOptions::default()).unwrap();
    // rows of weight 1e15, at risk only after the last event of interest, censored
    for _ in 0..3 {
        exit.push(9.0);
        entry.push(6.5);
        weight.push(1e15);
        x.push(0.5);
        cause.push(0);
    }
    let all = Sample::new(exit.clone(), cause.clone())
        .unwrap()
        .with_entry(entry.clone())
        .unwrap()
        .with_weight(weight.clone())
        .unwrap();
    let fit = cox(&all, &one("x", x), None, &CoxOptions::default()).unwrap();
    assert!((fit.terms[0].estimate.unwrap() - alone.terms[0].estimate.unwrap()).abs() < 1e-6);
}

/// By hand: rows 1 and 2 are gone by 3 and the next enters at 4, so nobody is at risk in (3, 4]; at 6 both at risk have the event
/// while another enters at 6.5. Rows that follow one another without a gap leave nobody out.
#[test]
fn a_risk_set_that_empties_is_reported() {
    let found = |entry: Vec<f64>, exit: Vec<f64>, cause: Vec<u32>, stratum: Option<&[u32]>| {
        let n = exit.len();
        let sample = Sample::new(exit, cause).unwrap().with_entry(entry).unwrap();
        let x = (0..n).map(|row| (row % 2) as f64).collect();
        let fit = cox(&sample, &one("x", x), stratum, &CoxOptions::default()).unwrap();
        fit.notes.into_iter().find_map(|note| match note {
            CoxNote::RiskSetsEmptied(emptied) => Some(emptied),
            _ => None,
        })
    };
    let emptied = |n_times, stratum, time| {
        Some(EmptiedRiskSets {
            n_times,
            stratum,
            time,
        })
    };
    let entry = vec![0.0, 0.0, 4.0, 4.0, 6.5, 6.5];
    let exit = vec![2.0, 3.0, 6.0, 6.0, 8.0, 9.0];
    let cause = vec![1, 0, 1, 1, 1, 0];
    let first = found(entry.clone(), exit.clone(), cause.clone(), None);
    assert_eq!(first, emptied(2, 0, 3.0));
    // somebody of another stratum is no company
    let with_others = |values: Vec<f64>, more: [f64; 2]| [values, more.to_vec()].concat();
    let within = found(
        with_others(entry, [0.0, 0.0]),
        with_others(exit, [7.0, 9.0]),
        [cause, vec![1, 1]].concat(),
        Some(&[5, 5, 5, 5, 5, 5, 9, 9]),
    );
    assert_eq!(within, emptied(2, 5, 3.0));
    // one leaves when the next enters
    let without = found(
        vec![0.0, 0.0, 3.0, 3.0],
        vec![2.0, 3.0, 5.0, 6.0],
        vec![1, 0, 1, 0],
        None,
    );
    assert_eq!(without, None);
}
