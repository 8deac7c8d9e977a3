//! Two studies under propensity weights: R glm, survfit and coxph with weights.

use super::support::{assert_all_near, assert_near, case, complete_rows, numbers};
use serde_json::Value;
use survival::regression::cox::{CoxOptions, cox};
use survival::regression::{
    BinaryOutcomes, Covariate, Covariates, LogisticFit, LogisticOptions, c_statistic, logistic,
};
use survival::weighting::{
    CovariateKind, PropensityModel, PropensityWeights, Target, WeightOptions, propensity_weights,
    standardised_difference, weighted_contrast, weighted_contrast_of_model, weighted_curves,
};
use survival::{Limits, Sample};

/// A study of the reference file: rows without missing values and R's propensity model.
struct Study {
    reference: Value,
    sample: Sample,
    is_treated: Vec<bool>,
    covariates: Vec<Vec<f64>>,
    propensity: Vec<f64>,
    options: WeightOptions,
}

impl Study {
    fn weights(&self) -> PropensityWeights {
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

fn studies() -> Vec<Study> {
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
fn weighted_hazard_ratio_agrees_with_r() {
    for study in studies() {
        let expected = &study.reference["values"]["weighted_cox"];
        let sample = study
            .sample
            .clone()
            .with_weight(study.weights().weights)
            .unwrap();
        let treated = study
            .is_treated
            .iter()
            .map(|treated| f64::from(u8::from(*treated)))
            .collect();
        let column = Covariate {
            name: "treated".to_owned(),
            values: treated,
        };
        let covariates = Covariates::new(sample.len(), vec![column]).unwrap();
        let fit = cox(&sample, &covariates, None, &CoxOptions::default()).unwrap();
        assert_near(
            fit.terms[0].estimate.unwrap(),
            numbers(&expected["coef"])[0],
            1e-7,
        );
        assert_near(
            fit.terms[0].robust_std_error.unwrap(),
            numbers(&expected["robust_se"])[0],
            1e-7,
        );
        assert_near(
            fit.terms[0].std_error.unwrap(),
            numbers(&expected["naive_se"])[0],
            1e-7,
        );
        let score = expected["robust_score_test"][0][0].as_f64().unwrap();
        assert_near(fit.robust_score_test().unwrap().statistic, score, 1e-6);
    }
}

/// Fits the propensity model here instead of taking R's coefficients.
fn fitted_model(study: &Study) -> LogisticFit {
    let outcomes = BinaryOutcomes::new(study.is_treated.clone()).unwrap();
    logistic(&outcomes, &columns(study), &LogisticOptions::default()).unwrap()
}

fn columns(study: &Study) -> Covariates {
    let names = names(&study.reference["columns"]["ps_covariates"]);
    let column = |(name, values): (&str, &Vec<f64>)| Covariate {
        name: name.to_owned(),
        values: values.clone(),
    };
    let columns = names
        .into_iter()
        .zip(&study.covariates)
        .map(column)
        .collect();
    Covariates::new(study.is_treated.len(), columns).unwrap()
}

#[test]
fn propensity_model_agrees_with_r() {
    for study in studies() {
        let fit = fitted_model(&study);
        let estimates: Vec<f64> = fit
            .terms
            .iter()
            .map(|term| term.estimate.unwrap())
            .collect();
        let errors: Vec<f64> = fit
            .terms
            .iter()
            .map(|term| term.std_error.unwrap())
            .collect();
        assert_all_near(
            &estimates,
            &numbers(&study.reference["values"]["ps_coef"]),
            1e-7,
        );
        assert_all_near(&errors, &numbers(&study.reference["values"]["ps_se"]), 1e-7);
        assert_all_near(&fit.fitted, &study.propensity, 1e-9);
        let outcomes = BinaryOutcomes::new(study.is_treated.clone()).unwrap();
        let c = c_statistic(&outcomes, &fit.fitted).unwrap().unwrap();
        assert_near(
            c.estimate,
            study.reference["values"]["c_statistic"].as_f64().unwrap(),
            1e-9,
        );
    }
}

#[test]
fn whole_chain_from_covariates_to_contrast() {
    for study in studies() {
        let fit = fitted_model(&study);
        let covariates = columns(&study);
        let model = PropensityModel {
            covariates: &covariates,
            propensity: &fit.fitted,
        };
        let expected = &study.reference["values"]["risk_difference"];
        for (place, time) in numbers(&expected["time"]).into_iter().enumerate() {
            let target = Target::EventFree { time };
            let options = &study.options;
            let found = weighted_contrast_of_model(
                &study.sample,
                &study.is_treated,
                &model,
                options,
                target,
                0.95,
            );
            let found = found.unwrap().unwrap();
            assert_near(
                -found.difference.estimate,
                numbers(&expected["diff"])[place],
                1e-9,
            );
            // Knowing that the weights were estimated changes the error a little, here by less than a tenth.
            let known = numbers(&expected["std_err"])[place];
            assert!((found.difference.std_error / known - 1.0).abs() < 0.1);
        }
    }
}
