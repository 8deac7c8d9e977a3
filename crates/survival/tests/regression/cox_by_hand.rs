//! Proportional hazards by hand, from print, and at the edges of what can be estimated.

use survival::Sample;
use survival::regression::cox::{CoxOptions, Ties, cox};
use survival::regression::{Covariate, Covariates, Estimability};

use crate::support::{Table, freireich, freireich_control};

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

/// Freireich et al., Blood 1963;21:699-716, as analysed by Cox 1972: weeks of remission, 6-MP and control.
#[test]
fn remission_of_leukaemia_gives_the_published_coefficients_under_each_treatment_of_ties() {
    for (ties, estimate, error) in [
        (Ties::Efron, 1.57213, 0.41240),
        (Ties::Breslow, 1.50919, 0.40956),
        (Ties::Exact, 1.62824, 0.43313),
    ] {
        let fit = cox(
            &freireich(),
            &one("control", freireich_control()),
            None,
            &with_ties(ties),
        )
        .unwrap();
        assert!(
            (fit.terms[0].estimate.unwrap() - estimate).abs() < 5e-6,
            "{ties:?} {:?}",
            fit.terms[0]
        );
        assert!(
            (fit.terms[0].std_error.unwrap() - error).abs() < 5e-6,
            "{ties:?} {:?}",
            fit.terms[0]
        );
    }
    // the score test of the exact likelihood is the log-rank test
    let exact = cox(
        &freireich(),
        &one("control", freireich_control()),
        None,
        &with_ties(Ties::Exact),
    )
    .unwrap();
    assert!((exact.score_test.statistic - 16.79294).abs() < 5e-6);
}

/// Times 1, 2, 3 with x = 0, 1, 0 and an event at 1 (x = 0) and 2 (x = 1): L(b) = 1/(2 + e^b) * e^b/(e^b + 1). Its log
/// derivative is zero where e^b = sqrt 2; the information is 2r/(2+r)^2 + r/(1+r)^2 with r = sqrt 2.
#[test]
fn three_rows_worked_by_hand() {
    let sample = Sample::new(vec![1.0, 2.0, 3.0], vec![1, 1, 0]).unwrap();
    let fit = cox(
        &sample,
        &one("x", vec![0.0, 1.0, 0.0]),
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    let r = 2.0_f64.sqrt();
    let information = 2.0 * r / (2.0 + r).powi(2) + r / (1.0 + r).powi(2);
    assert!((fit.terms[0].estimate.unwrap() - r.ln()).abs() < 1e-12);
    assert!((fit.terms[0].std_error.unwrap() - information.powf(-0.5)).abs() < 1e-12);
    assert!((fit.log_likelihood - (r / ((2.0 + r) * (1.0 + r))).ln()).abs() < 1e-12);
    // baseline: 1/(2 + r) and then 1/(1 + r)
    let steps = &fit.baseline().unwrap()[0].steps;
    assert!((steps[0].cumulative_hazard - 1.0 / (2.0 + r)).abs() < 1e-12);
    assert!((steps[1].cumulative_hazard - 1.0 / (2.0 + r) - 1.0 / (1.0 + r)).abs() < 1e-12);
}

#[test]
fn a_time_dependent_covariate_is_two_rows_of_one_subject() {
    // the switch of subject 2 at day 2 lies between the events at 1 and 3: L = 1/3 * e^b/(1 + e^b), rising for ever
    let sample = Sample::new(vec![1.0, 2.0, 3.0, 4.0], vec![1, 0, 1, 0])
        .unwrap()
        .with_entry(vec![0.0, 0.0, 2.0, 0.0])
        .unwrap();
    let fit = cox(
        &sample,
        &one("switched", vec![0.0, 0.0, 1.0, 0.0]),
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    assert!((fit.log_likelihood_null - (1.0_f64 / 3.0).ln() - 0.5_f64.ln()).abs() < 1e-12);
    assert!((fit.log_likelihood - (1.0_f64 / 3.0).ln()).abs() < 1e-7);
    assert_eq!(fit.terms[0].estimability, Estimability::GrowsWithoutBound);
}

#[test]
fn other_causes_are_censored_for_a_cause_specific_hazard() {
    let cause = vec![1, 2, 1, 2, 0, 1];
    let exit = vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let x = one("x", vec![1.0, 0.0, 0.0, 1.0, 1.0, 0.5]);
    let specific = cox(
        &Sample::new(exit.clone(), cause.clone()).unwrap(),
        &x,
        None,
        &CoxOptions {
            cause: Some(1),
            ..CoxOptions::default()
        },
    )
    .unwrap();
    let censored: Vec<u32> = cause.iter().map(|&cause| u32::from(cause == 1)).collect();
    let plain = cox(
        &Sample::new(exit, censored).unwrap(),
        &x,
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    assert_eq!(specific.terms, plain.terms);
    assert_eq!(specific.n_events, 3);
}

#[test]
fn without_covariates_the_baseline_is_the_nelson_aalen_estimate() {
    let sample = Sample::new(vec![1.0, 2.0, 2.0, 4.0], vec![1, 1, 0, 1]).unwrap();
    let fit = cox(
        &sample,
        &Covariates::new(4, Vec::new()).unwrap(),
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    let hazards: Vec<f64> = fit.baseline().unwrap()[0]
        .steps
        .iter()
        .map(|step| step.cumulative_hazard)
        .collect();
    for (found, expected) in hazards
        .iter()
        .zip([0.25, 0.25 + 1.0 / 3.0, 0.25 + 1.0 / 3.0 + 1.0])
    {
        assert!((found - expected).abs() < 1e-14);
    }
    assert_eq!(fit.curve(&[], 0, &[5.0]).unwrap().points[0].estimate, None);
}

#[test]
fn an_adjusted_curve_is_the_mean_of_the_curves_of_its_rows() {
    let sample = freireich();
    let covariates = one("control", freireich_control());
    let fit = cox(&sample, &covariates, None, &CoxOptions::default()).unwrap();
    let times = [5.0, 10.0, 20.0];
    let adjusted = fit.adjusted_curve(&covariates, 0, &times).unwrap();
    let treated = fit.curve(&[0.0], 0, &times).unwrap();
    let control = fit.curve(&[1.0], 0, &times).unwrap();
    for place in 0..times.len() {
        let mean = 0.5
            * (treated.points[place].estimate.unwrap() + control.points[place].estimate.unwrap());
        assert!((adjusted.points[place].estimate.unwrap() - mean).abs() < 1e-14);
        let (lower, upper) = (
            adjusted.points[place].lower.unwrap(),
            adjusted.points[place].upper.unwrap(),
        );
        assert!(lower < mean && mean < upper);
    }
    let fixed = fit
        .adjusted_curve(&covariates.with_fixed("control", 1.0).unwrap(), 0, &times)
        .unwrap();
    for (fixed, control) in fixed.points.iter().zip(&control.points) {
        assert!((fixed.std_error.unwrap() - control.std_error.unwrap()).abs() < 1e-14);
    }
}

/// The diabetic retinopathy trial, two eyes of a patient (R survival 3.5-3; Huster, Brookmeyer and Self, Biometrics
/// 1989;45:145-156): one eye of each was treated, so the error of the contrast shrinks when patients are kept together.
#[test]
fn two_eyes_of_one_patient_make_the_robust_error_the_smaller_one() {
    let table = Table::read("retinopathy.csv");
    let status = table
        .numbers("status")
        .iter()
        .map(|&status| status as u32)
        .collect();
    let sample = Sample::new(table.numbers("time"), status).unwrap();
    let sample = sample.with_cluster(table.codes("id")).unwrap();
    let fit = cox(
        &sample,
        &table.covariates(&["trt"]),
        None,
        &CoxOptions::default(),
    )
    .unwrap();
    let term = &fit.terms[0];
    assert_eq!((fit.n, fit.n_events, fit.n_clusters), (394, 155, Some(197)));
    assert!((term.estimate.unwrap() + 0.7766).abs() < 5e-5);
    assert!((term.std_error.unwrap() - 0.1688).abs() < 5e-5);
    assert!((term.robust_std_error.unwrap() - 0.1475).abs() < 5e-5);
}
