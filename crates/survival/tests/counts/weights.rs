//! Propensity weights, balance, effective size and weighted incidence: numpy and hand-worked cases.

use super::support::{assert_all_near, assert_near, case, numbers};
use survival::weighting::{
    CovariateKind, Population, Truncation, WeightOptions, effective_size, propensity_weights,
    standardised_difference, weighted_curves, weighted_incidence,
};
use survival::{Limits, Sample, SurvivalError};

#[test]
fn truncated_weights_agree_with_numpy() {
    let reference = case("weighting_numpy.json", "truncated-weights");
    let trial = case("weighting_numpy.json", "contrast-average");
    let is_treated: Vec<bool> = numbers(&trial["columns"]["treated"])
        .iter()
        .map(|value| *value == 1.0)
        .collect();
    let truncation = Truncation {
        lower: reference["options"]["lower"].as_f64().unwrap(),
        upper: reference["options"]["upper"].as_f64().unwrap(),
    };
    let options = WeightOptions {
        truncation: Some(truncation),
        ..WeightOptions::default()
    };
    let found = propensity_weights(
        &is_treated,
        &numbers(&trial["columns"]["propensity"]),
        &options,
    )
    .unwrap();
    assert_all_near(
        &found.weights,
        &numbers(&reference["values"]["weights"]),
        1e-12,
    );
    assert_eq!(
        found.n_truncated as u64,
        reference["values"]["n_truncated"].as_u64().unwrap()
    );
}

#[test]
fn weights_of_three_populations_by_hand() {
    // Chance 1/4: treated 4, 1 and 3/4; untreated 4/3, 1/3 and 1/4.
    for (population, treated, untreated) in [
        (Population::Average, 4.0, 4.0 / 3.0),
        (Population::Treated, 1.0, 1.0 / 3.0),
        (Population::Overlap, 0.75, 0.25),
    ] {
        let options = WeightOptions {
            population,
            ..WeightOptions::default()
        };
        let found = propensity_weights(&[true, false], &[0.25, 0.25], &options).unwrap();
        assert_all_near(&found.weights, &[treated, untreated], 1e-15);
    }
}

#[test]
fn row_without_counterpart_is_named() {
    let weights = |population, treated: [bool; 2], chance| {
        propensity_weights(
            &treated,
            &[0.5, chance],
            &WeightOptions {
                population,
                ..WeightOptions::default()
            },
        )
    };
    let untreated_for_sure = weights(Population::Average, [true, false], 1.0);
    assert_eq!(untreated_for_sure, Err(SurvivalError::NoOverlap { row: 2 }));
    assert_eq!(
        weights(Population::Average, [false, true], 0.0),
        Err(SurvivalError::NoOverlap { row: 2 })
    );
    assert!(weights(Population::Overlap, [true, false], 1.0).is_ok());
    assert!(weights(Population::Average, [true, true], 0.5).is_err());
    assert!(weights(Population::Average, [true, false], f64::NAN).is_err());
    let truncation = Some(Truncation {
        lower: 0.9,
        upper: 0.1,
    });
    assert!(
        propensity_weights(
            &[true, false],
            &[0.5; 2],
            &WeightOptions {
                truncation,
                ..WeightOptions::default()
            }
        )
        .is_err()
    );
}

#[test]
fn kish_size_by_hand() {
    assert_eq!(effective_size(&[1.0, 1.0, 1.0]).effective, Some(3.0));
    // (1 + 2 + 3)^2 / (1 + 4 + 9)
    assert_near(
        effective_size(&[1.0, 2.0, 3.0]).effective.unwrap(),
        36.0 / 14.0,
        1e-14,
    );
    assert_near(
        effective_size(&[1e-200, 1e-200]).effective.unwrap(),
        2.0,
        1e-14,
    );
    for weights in [
        &[][..],
        &[0.0, 0.0],
        &[1.0, -1.0],
        &[1.0, f64::NAN],
        &[f64::INFINITY],
    ] {
        assert_eq!(effective_size(weights).effective, None);
    }
}

#[test]
fn standardised_difference_of_proportions_by_hand() {
    // 3/4 against 1/4: 0.5 / sqrt(3/16).
    let values = [1.0, 1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0];
    let is_treated = [true, true, true, true, false, false, false, false];
    let found = standardised_difference(&values, &is_treated, &[1.0; 8], CovariateKind::Proportion)
        .unwrap();
    assert_near(
        found.difference.unwrap(),
        0.5 / (3.0_f64 / 16.0).sqrt(),
        1e-14,
    );
    assert_eq!(found.difference, found.weighted_difference);
    let odd = standardised_difference(
        &[0.0, 0.5, 1.0, 1.0],
        &[true, true, false, false],
        &[1.0; 4],
        CovariateKind::Proportion,
    );
    assert!(matches!(
        odd,
        Err(SurvivalError::NotAProbability { row: 2, .. })
    ));
    let flat = standardised_difference(
        &[2.0; 4],
        &[true, true, false, false],
        &[1.0; 4],
        CovariateKind::Mean,
    )
    .unwrap();
    assert_eq!(flat.difference, None);
    let lone = standardised_difference(
        &[2.0, 1.0, 1.0],
        &[true, false, false],
        &[1.0; 3],
        CovariateKind::Mean,
    );
    assert!(matches!(lone, Err(SurvivalError::TooFewValues { .. })));
    let weightless = standardised_difference(
        &[1.0, 2.0, 3.0, 4.0],
        &[true, true, false, false],
        &[0.0, 0.0, 1.0, 1.0],
        CovariateKind::Mean,
    );
    assert_eq!(weightless.unwrap().weighted_difference, None);
}

#[test]
fn incidences_of_a_weighted_group_add_to_one() {
    let sample = Sample::new(vec![1.0, 2.0, 3.0, 1.0, 2.0, 4.0], vec![1, 2, 0, 1, 0, 1]).unwrap();
    let found = weighted_incidence(
        &sample,
        &[7, 7, 7, 9, 9, 9],
        &[1.0, 2.0, 1.5, 0.5, 1.0, 3.0],
        0.95,
        Limits::LogLog,
    )
    .unwrap();
    assert_eq!((found[0].group, found[1].group), (7, 9));
    for own in &found {
        // Cause 2 does not occur in the second group and is 0 there.
        assert_eq!(own.incidence.causes.len(), 2);
        let total = own
            .incidence
            .causes
            .iter()
            .map(|curve| curve.at(2.0).unwrap().estimate)
            .sum::<f64>();
        assert_near(
            total + own.incidence.event_free.at(2.0).unwrap().estimate,
            1.0,
            1e-14,
        );
    }
    assert!(weighted_curves(&sample, &[7], &[1.0; 6], 0.95, Limits::Log).is_err());
    assert!(weighted_curves(&sample, &[7; 6], &[1.0], 0.95, Limits::Log).is_err());
    assert_eq!(
        weighted_curves(&sample, &[7; 6], &[0.0; 6], 0.95, Limits::Log),
        Err(SurvivalError::NoWeight)
    );
}

#[test]
fn incidence_that_reaches_one_does_not_pass_it_by_rounding() {
    let sample = Sample::new(
        vec![676.1286651232165, 0.5387369473520158, 1e-9],
        vec![2, 2, 2],
    )
    .unwrap();
    let weights = [0.9999999999999998, 0.24430192488586322, 0.09085379607380216];
    for limits in [
        Limits::Linear,
        Limits::Log,
        Limits::LogLog,
        Limits::Logit,
        Limits::Arcsine,
    ] {
        let found = weighted_incidence(&sample, &[1; 3], &weights, 0.95, limits).unwrap();
        let points = &found[0].incidence.of_cause(2).unwrap().points;
        assert!(points.iter().all(|point| point.estimate <= 1.0));
    }
}
