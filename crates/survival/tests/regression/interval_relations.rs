//! Interval-censored estimates by hand, against Kaplan-Meier, and relations they must keep.

use proptest::prelude::*;
use survival::interval::{
    Distribution, IntervalRegressionNote, IntervalRegressionOptions, IntervalSample, NpmleNote,
    interval_regression, npmle,
};
use survival::regression::{Covariate, Covariates, Estimability};
use survival::{CurveOptions, Sample, SurvivalError, kaplan_meier};

const NEVER: f64 = f64::INFINITY;

fn sample(rows: &[(f64, f64)]) -> IntervalSample {
    let lower = rows.iter().map(|row| row.0).collect();
    IntervalSample::new(lower, rows.iter().map(|row| row.1).collect()).unwrap()
}

fn no_covariates(n_rows: usize) -> Covariates {
    Covariates::new(n_rows, Vec::new()).unwrap()
}

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

/// Whole ends, so that ends meet; about a third right-censored, some exact.
fn rows() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let row = (0_u32..20, 0_u32..12, 0_u32..3).prop_map(|(lower, length, kind)| {
        let lower = f64::from(lower);
        match kind {
            0 => (lower, NEVER),
            1 if lower > 0.0 && length < 2 => (lower, lower),
            _ => (lower, lower + 1.0 + f64::from(length)),
        }
    });
    prop::collection::vec(row, 1..80)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn the_maximum_is_certified_and_the_masses_add_up_to_one(rows in rows()) {
        let estimate = npmle(&sample(&rows)).unwrap();
        prop_assert!(estimate.largest_excess <= 1e-9, "{}", estimate.largest_excess);
        let total: f64 = estimate.masses.iter().map(|mass| mass.probability).sum();
        prop_assert!((total - 1.0).abs() < 1e-12);
        prop_assert!(!estimate.notes.contains(&NpmleNote::NotCertified));
        // the slope over each interval, summed from the definition, does not exceed the number of rows
        for mass in &estimate.masses {
            let is_over = |row: &(f64, f64), mass: &survival::interval::Mass| {
                let is_exact = row.0 == row.1;
                let upper = mass.upper.unwrap_or(NEVER);
                let begins = if is_exact { mass.lower == row.0 && upper == row.0 } else { mass.lower >= row.0 && !(mass.lower == mass.upper.unwrap_or(NEVER) && mass.lower == row.0) };
                begins && upper <= row.1
            };
            let slope: f64 = rows
                .iter()
                .filter(|row| is_over(row, mass))
                .map(|row| 1.0 / estimate.masses.iter().filter(|mass| is_over(row, mass)).map(|mass| mass.probability).sum::<f64>())
                .sum();
            prop_assert!((slope / rows.len() as f64 - 1.0).abs() < 1e-7, "{slope}");
        }
    }

    #[test]
    fn the_order_of_rows_and_the_unit_of_time_do_not_matter(rows in rows(), unit in 1_u32..40) {
        let unit = f64::from(unit) / 7.0;
        let moved: Vec<(f64, f64)> = rows.iter().rev().map(|row| (row.0 * unit, row.1 * unit)).collect();
        let (one, other) = (npmle(&sample(&rows)).unwrap(), npmle(&sample(&moved)).unwrap());
        prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-8);
        prop_assert_eq!(one.masses.len(), other.masses.len());
        for (a, b) in one.masses.iter().zip(&other.masses) {
            prop_assert!((a.probability - b.probability).abs() < 1e-7);
            prop_assert!((a.lower * unit - b.lower).abs() < 1e-9);
        }
    }

    #[test]
    fn a_row_repeated_equals_a_row_of_weight_two(rows in rows()) {
        let twice: Vec<(f64, f64)> = rows.iter().chain(rows.iter().take(5)).copied().collect();
        let weight = (0..rows.len()).map(|row| if row < 5 { 2.0 } else { 1.0 }).collect();
        let weighted = sample(&rows).with_weight(weight).unwrap();
        let (one, other) = (npmle(&sample(&twice)).unwrap(), npmle(&weighted).unwrap());
        prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-8);
    }

    #[test]
    fn exact_and_right_censored_times_give_kaplan_meier(rows in prop::collection::vec((1_u32..15, any::<bool>()), 2..60)) {
        let intervals: Vec<(f64, f64)> =
            rows.iter().map(|&(time, is_event)| (f64::from(time), if is_event { f64::from(time) } else { NEVER })).collect();
        let follow_up = Sample::new(
            rows.iter().map(|&(time, _)| f64::from(time)).collect(),
            rows.iter().map(|&(_, is_event)| u32::from(is_event)).collect(),
        ).unwrap();
        let estimate = npmle(&sample(&intervals)).unwrap();
        let curve = kaplan_meier(&follow_up, &CurveOptions::default()).unwrap();
        for point in &curve.points {
            prop_assert!((estimate.at(point.time).highest - point.estimate).abs() < 1e-8);
        }
    }

    #[test]
    fn a_change_of_unit_shifts_the_intercept_alone(rows in prop::collection::vec((1_u32..30, 1_u32..10, -20_i32..20), 20..60)) {
        let intervals: Vec<(f64, f64)> = rows.iter().map(|row| (f64::from(row.0), f64::from(row.0 + row.1))).collect();
        let scaled: Vec<(f64, f64)> = intervals.iter().map(|row| (row.0 * 7.0, row.1 * 7.0)).collect();
        let x = one("x", rows.iter().map(|row| f64::from(row.2)).collect());
        for distribution in [Distribution::Weibull, Distribution::LogNormal, Distribution::Exponential] {
            let options = IntervalRegressionOptions { distribution, ..IntervalRegressionOptions::default() };
            let weeks = interval_regression(&sample(&intervals), &x, &options);
            let days = interval_regression(&sample(&scaled), &x, &options);
            if let (Ok(weeks), Ok(days)) = (weeks, days) {
                let shift = days.terms[0].estimate.unwrap() - weeks.terms[0].estimate.unwrap();
                prop_assert!((shift - 7.0_f64.ln()).abs() < 1e-7);
                prop_assert!((weeks.log_likelihood - days.log_likelihood).abs() < 1e-7);
                for (a, b) in weeks.terms.iter().zip(&days.terms).skip(1) {
                    prop_assert!((a.estimate.unwrap_or(0.0) - b.estimate.unwrap_or(0.0)).abs() < 1e-7);
                }
            }
        }
    }
}

#[test]
fn all_right_censored_leaves_all_mass_beyond_the_last_time() {
    let estimate = npmle(&sample(&[(3.0, NEVER), (5.0, NEVER)])).unwrap();
    assert_eq!(estimate.masses.len(), 1);
    assert_eq!(
        (estimate.masses[0].lower, estimate.masses[0].upper),
        (5.0, None)
    );
    assert!(estimate.notes.contains(&NpmleNote::NoEvents));
    assert_eq!(estimate.at(5.0).estimate, Some(1.0));
    assert_eq!(estimate.at(6.0).estimate, None);
    assert_eq!(
        (estimate.at(6.0).lowest, estimate.at(6.0).highest),
        (0.0, 1.0)
    );
}

#[test]
fn a_row_without_information_is_counted_and_moves_nothing() {
    let with = npmle(&sample(&[(0.0, NEVER), (0.0, 5.0), (5.0, 9.0)])).unwrap();
    let without = npmle(&sample(&[(0.0, 5.0), (5.0, 9.0)])).unwrap();
    assert_eq!(with.n, 3);
    assert!(with.notes.contains(&NpmleNote::NoInformation { n_rows: 1 }));
    assert!((with.masses[0].probability - without.masses[0].probability).abs() < 1e-12);
}

#[test]
fn bad_rows_are_refused_by_name() {
    let refused =
        |lower: Vec<f64>, upper: Vec<f64>| IntervalSample::new(lower, upper).err().unwrap();
    assert_eq!(refused(vec![], vec![]), SurvivalError::NoRows);
    assert_eq!(
        refused(vec![1.0, 3.0], vec![2.0, 2.0]),
        SurvivalError::UpperBelowLower { row: 2 }
    );
    assert!(matches!(
        refused(vec![f64::NAN], vec![2.0]),
        SurvivalError::NotFinite {
            column: "lower",
            row: 1
        }
    ));
    assert!(matches!(
        refused(vec![NEVER], vec![NEVER]),
        SurvivalError::NotFinite {
            column: "lower",
            row: 1
        }
    ));
    assert!(matches!(
        refused(vec![1.0], vec![f64::NAN]),
        SurvivalError::NotFinite {
            column: "upper",
            row: 1
        }
    ));
    assert!(matches!(
        refused(vec![-1.0], vec![1.0]),
        SurvivalError::Negative {
            column: "lower",
            row: 1
        }
    ));
    let options = IntervalRegressionOptions::default();
    let at_zero = sample(&[(0.0, 0.0), (1.0, 2.0)]);
    assert_eq!(
        interval_regression(&at_zero, &no_covariates(2), &options).err(),
        Some(SurvivalError::EventAtOrigin { row: 1 })
    );
    let censored = sample(&[(1.0, NEVER), (2.0, NEVER)]);
    assert_eq!(
        interval_regression(&censored, &no_covariates(2), &options).err(),
        Some(SurvivalError::NoEvents)
    );
}

#[test]
fn times_without_scatter_do_not_determine_a_scale() {
    let options = IntervalRegressionOptions::default();
    for rows in [
        vec![(3.0, 3.0); 4],
        vec![(0.0, 3.0), (0.0, 3.0), (3.0, NEVER)],
    ] {
        let n_rows = rows.len();
        let found = interval_regression(&sample(&rows), &no_covariates(n_rows), &options);
        assert_eq!(found, Err(SurvivalError::ScaleNotEstimable));
    }
}

/// Exponential with exact and right-censored times: the rate is events over time at risk, its log has variance 1/events.
#[test]
fn the_exponential_rate_is_events_over_time_at_risk() {
    let rows = sample(&[(2.0, 2.0), (5.0, 5.0), (4.0, NEVER), (9.0, 9.0)]);
    let options = IntervalRegressionOptions {
        distribution: Distribution::Exponential,
        ..IntervalRegressionOptions::default()
    };
    let fit = interval_regression(&rows, &no_covariates(4), &options).unwrap();
    assert!((fit.terms[0].estimate.unwrap() - (20.0_f64 / 3.0).ln()).abs() < 1e-9);
    assert!((fit.terms[0].std_error.unwrap() - (1.0_f64 / 3.0).sqrt()).abs() < 1e-9);
    // 3 ln(3/20) - 3
    assert!((fit.log_likelihood - (3.0 * 0.15_f64.ln() - 3.0)).abs() < 1e-12);
    assert_eq!(fit.scale, 1.0);
}

#[test]
fn a_group_without_an_event_separates_and_a_constant_is_redundant() {
    let rows = sample(&[
        (1.0, 2.0),
        (2.0, 4.0),
        (3.0, 5.0),
        (1.0, 3.0),
        (6.0, NEVER),
        (7.0, NEVER),
        (0.0, NEVER),
    ]);
    let spared = Covariate {
        name: "spared".into(),
        values: vec![0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0],
    };
    let constant = Covariate {
        name: "constant".into(),
        values: vec![4.0; 7],
    };
    let fit = interval_regression(
        &rows,
        &Covariates::new(7, vec![spared, constant]).unwrap(),
        &IntervalRegressionOptions::default(),
    )
    .unwrap();
    assert_eq!(fit.terms[1].estimability, Estimability::GrowsWithoutBound);
    assert_eq!(fit.terms[1].estimate, None);
    assert_eq!(fit.terms[2].estimability, Estimability::Redundant);
    assert!(fit.terms[0].estimate.is_some_and(f64::is_finite));
    assert_eq!(
        fit.notes[0],
        IntervalRegressionNote::NoInformation { n_rows: 1 }
    );
    assert_eq!(fit.notes.len(), 3);
    assert_eq!(fit.n, 6);
}
