//! Propensity weights, balance, effective size and weighted curves: R glm and survfit, numpy.

use super::support::{assert_all_near, assert_near, case, complete_rows, numbers};
use serde_json::Value;
use survival::weighting::{
    CovariateKind, Population, PropensityWeights, Target, Truncation, WeightOptions,
    effective_size, propensity_weights, standardised_difference, weighted_contrast,
    weighted_curves, weighted_incidence,
};
use survival::{Limits, Sample, SurvivalError};

/// A study of the reference file: rows without missing values and R's propensity model.
pub(crate) struct Study {
    pub(crate) reference: Value,
    pub(crate) sample: Sample,
    pub(crate) is_treated: Vec<bool>,
    pub(crate) covariates: Vec<Vec<f64>>,
    pub(crate) propensity: Vec<f64>,
    pub(crate) options: WeightOptions,
}

impl Study {
    pub(crate) fn weights(&self) -> PropensityWeights {
        propensity_weights(&self.is_treated, &self.propensity, &self.options).unwrap()
    }
}

fn names(value: &Value) -> Vec<&str> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|name| name.as_str().unwrap())
        .collect()
}

pub(crate) fn studies() -> Vec<Study> {
    ["iptw-gbsg-ate", "iptw-lung-sex-stab"]
        .into_iter()
        .map(study)
        .collect()
}

fn study(id: &str) -> Study {
    let reference = case("iptw.json", id);
    let columns = &reference["columns"];
    // In the lung study `male` is sex 1.
    let treatment = if columns["treatment"] == "male" {
        "sex"
    } else {
        columns["treatment"].as_str().unwrap()
    };
    let mut used = names(&columns["ps_covariates"]);
    used.extend([
        columns["time"].as_str().unwrap(),
        columns["event"].as_str().unwrap(),
        treatment,
    ]);
    let mut table = complete_rows(reference["dataset"].as_str().unwrap(), &used);
    let is_treated: Vec<bool> = table
        .pop()
        .unwrap()
        .iter()
        .map(|value| *value == 1.0)
        .collect();
    let cause = table
        .pop()
        .unwrap()
        .iter()
        .map(|value| *value as u32)
        .collect();
    let sample = Sample::new(table.pop().unwrap(), cause).unwrap();
    let coefficients = numbers(&reference["values"]["ps_coef"]);
    let propensity = (0..is_treated.len())
        .map(|row| {
            let slopes = coefficients[1..]
                .iter()
                .zip(&table)
                .map(|(slope, column)| slope * column[row]);
            1.0 / (1.0 + (-(coefficients[0] + slopes.sum::<f64>())).exp())
        })
        .collect();
    let is_stabilised = reference["options"]["stabilized"].as_bool().unwrap();
    let options = WeightOptions {
        is_stabilised,
        ..WeightOptions::default()
    };
    Study {
        sample,
        is_treated,
        covariates: table,
        propensity,
        options,
        reference,
    }
}

#[test]
fn weights_and_effective_sizes_agree_with_r() {
    for study in studies() {
        let values = &study.reference["values"];
        let weights = study.weights();
        assert_eq!(weights.weights.len() as u64, values["n"].as_u64().unwrap());
        assert_all_near(
            &weights.weights[..10],
            &numbers(&values["first10"]["w"]),
            1e-10,
        );
        let summary = &values["weight_summary"];
        assert_near(weights.smallest, summary["min"].as_f64().unwrap(), 1e-10);
        assert_near(weights.mean, summary["mean"].as_f64().unwrap(), 1e-10);
        assert_near(weights.largest, summary["max"].as_f64().unwrap(), 1e-10);
        assert_near(
            weights.size.effective.unwrap(),
            summary["ess"].as_f64().unwrap(),
            1e-8,
        );
        for (arm, size) in [(0, weights.size_untreated), (1, weights.size_treated)] {
            let expected = &values["arms"][arm];
            assert_eq!(size.n as u64, expected["n"].as_u64().unwrap());
            assert_near(
                size.sum_of_weights,
                expected["sum_w"].as_f64().unwrap(),
                1e-9,
            );
            assert_near(
                size.effective.unwrap(),
                expected["ess"].as_f64().unwrap(),
                1e-9,
            );
        }
    }
}

#[test]
fn balance_agrees_with_r() {
    for study in studies() {
        let weights = study.weights();
        let balance: Vec<_> = study
            .covariates
            .iter()
            .map(|values| {
                standardised_difference(
                    values,
                    &study.is_treated,
                    &weights.weights,
                    CovariateKind::Mean,
                )
                .unwrap()
            })
            .collect();
        let raw: Vec<f64> = balance
            .iter()
            .map(|balance| balance.difference.unwrap())
            .collect();
        let weighted: Vec<f64> = balance
            .iter()
            .map(|balance| balance.weighted_difference.unwrap())
            .collect();
        assert_all_near(
            &raw,
            &numbers(&study.reference["values"]["balance"]["smd_raw"]),
            1e-10,
        );
        assert_all_near(
            &weighted,
            &numbers(&study.reference["values"]["balance"]["smd_weighted"]),
            1e-10,
        );
    }
}

#[test]
fn weighted_curves_agree_with_r() {
    for study in studies() {
        let group: Vec<u32> = study
            .is_treated
            .iter()
            .map(|treated| u32::from(*treated))
            .collect();
        let curves = weighted_curves(
            &study.sample,
            &group,
            &study.weights().weights,
            0.95,
            Limits::Log,
        )
        .unwrap();
        for (own, expected) in curves
            .iter()
            .zip(study.reference["values"]["arms"].as_array().unwrap())
        {
            assert_eq!(u64::from(own.group), expected["arm"].as_u64().unwrap());
            assert_near(
                own.size.effective.unwrap(),
                expected["ess"].as_f64().unwrap(),
                1e-9,
            );
            let points: Vec<_> = numbers(&expected["time"])
                .into_iter()
                .map(|time| own.curve.at(time).unwrap())
                .collect();
            let estimates: Vec<f64> = points.iter().map(|point| point.estimate).collect();
            assert_all_near(&estimates, &numbers(&expected["surv"]), 1e-10);
            let errors: Vec<f64> = points
                .iter()
                .map(|point| point.std_error.unwrap())
                .collect();
            assert_all_near(&errors, &numbers(&expected["std_err_robust"]), 1e-8);
            let lower: Vec<f64> = points.iter().map(|point| point.lower.unwrap()).collect();
            assert_all_near(&lower, &numbers(&expected["lower_log"]), 1e-8);
            let upper: Vec<f64> = points.iter().map(|point| point.upper.unwrap()).collect();
            assert_all_near(&upper, &numbers(&expected["upper_log"]), 1e-8);
            assert_near(
                own.curve.quantile(0.5).estimate.unwrap(),
                expected["median"].as_f64().unwrap(),
                1e-9,
            );
        }
    }
}

#[test]
fn contrasts_with_known_weights_agree_with_r() {
    for study in studies() {
        let weights = study.weights();
        let contrast = |target| {
            weighted_contrast(&study.sample, &study.is_treated, &weights, target, 0.95)
                .unwrap()
                .unwrap()
        };
        let expected = &study.reference["values"]["risk_difference"];
        for (place, time) in numbers(&expected["time"]).into_iter().enumerate() {
            let found = contrast(Target::EventFree { time });
            // The reference subtracts the other way round.
            assert_near(
                -found.difference.estimate,
                numbers(&expected["diff"])[place],
                1e-10,
            );
            assert_near(
                found.difference.std_error,
                numbers(&expected["std_err"])[place],
                1e-8,
            );
        }
        let until = study.reference["options"]["tau"].as_f64().unwrap();
        let found = contrast(Target::RestrictedMean { until });
        for (arm, estimate) in [(0, found.untreated), (1, found.treated)] {
            let expected = &study.reference["values"]["arms"][arm];
            assert_near(estimate.estimate, expected["rmst"].as_f64().unwrap(), 1e-8);
            assert_near(
                estimate.std_error,
                expected["rmst_std_err_robust"].as_f64().unwrap(),
                1e-8,
            );
        }
    }
}

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
