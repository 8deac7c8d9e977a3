//! Contrasts of weighted groups against whole refits with moved case weights.

use super::support::{assert_near, case, numbers};
use serde_json::Value;
use survival::Sample;
use survival::regression::{Covariate, Covariates};
use survival::weighting::{
    BootstrapOptions, Contrast, Population, PropensityModel, PropensityWeights, Target,
    WeightOptions, bootstrap_contrasts, propensity_weights, weighted_contrast,
    weighted_contrast_of_model,
};

struct Trial {
    reference: Value,
    sample: Sample,
    clustered: Sample,
    is_treated: Vec<bool>,
    weights: PropensityWeights,
    propensity: Vec<f64>,
    covariates: Covariates,
}

fn trials() -> Vec<Trial> {
    let populations = [
        ("average", Population::Average),
        ("treated", Population::Treated),
        ("overlap", Population::Overlap),
    ];
    populations
        .into_iter()
        .map(|(name, population)| trial(name, population))
        .collect()
}

fn trial(name: &str, population: Population) -> Trial {
    let reference = case("weighting_numpy.json", &format!("contrast-{name}"));
    let column = |name: &str| numbers(&reference["columns"][name]);
    let whole = |name: &str| {
        column(name)
            .iter()
            .map(|value| *value as u32)
            .collect::<Vec<u32>>()
    };
    let is_treated: Vec<bool> = column("treated")
        .iter()
        .map(|value| *value == 1.0)
        .collect();
    let sample = Sample::new(column("exit"), whole("cause"))
        .unwrap()
        .with_entry(column("entry"))
        .unwrap();
    let clustered = sample.clone().with_cluster(whole("cluster")).unwrap();
    let options = WeightOptions {
        population,
        ..WeightOptions::default()
    };
    let propensity = column("propensity");
    let weights = propensity_weights(&is_treated, &propensity, &options).unwrap();
    let covariates = ["x", "z"].map(|name| Covariate {
        name: name.to_owned(),
        values: column(name),
    });
    let covariates = Covariates::new(is_treated.len(), covariates.to_vec()).unwrap();
    Trial {
        sample,
        clustered,
        is_treated,
        weights,
        propensity,
        covariates,
        reference,
    }
}

fn target(name: &str) -> Target {
    let (kind, time) = name.split_once('@').unwrap();
    let time: f64 = time.parse().unwrap();
    match kind {
        "event-free" => Target::EventFree { time },
        "incidence-1" => Target::Incidence { cause: 1, time },
        "incidence-2" => Target::Incidence { cause: 2, time },
        _ => Target::RestrictedMean { until: time },
    }
}

#[track_caller]
fn assert_same_contrast(found: &Contrast, row: &Value, std_errors: &str) {
    assert_near(
        found.treated.estimate,
        row["treated"].as_f64().unwrap(),
        1e-9,
    );
    assert_near(
        found.untreated.estimate,
        row["untreated"].as_f64().unwrap(),
        1e-9,
    );
    // Central differences of whole refits carry about eight digits.
    let expected = numbers(&row[std_errors]);
    let found = [found.treated, found.untreated, found.difference];
    for (found, expected) in found.iter().zip(expected) {
        assert_near(found.std_error, expected, 1e-6);
    }
}

#[test]
fn known_weights_agree_with_refits() {
    for trial in trials() {
        for row in trial.reference["values"]["contrasts"].as_array().unwrap() {
            let target = target(row["target"].as_str().unwrap());
            for (sample, std_errors) in [
                (&trial.sample, "std_error_known"),
                (&trial.clustered, "std_error_known_clustered"),
            ] {
                let found =
                    weighted_contrast(sample, &trial.is_treated, &trial.weights, target, 0.95);
                assert_same_contrast(&found.unwrap().unwrap(), row, std_errors);
            }
        }
    }
}

#[test]
fn estimated_weights_agree_with_refits_of_the_whole_chain() {
    for trial in trials() {
        let model = PropensityModel {
            covariates: &trial.covariates,
            propensity: &trial.propensity,
        };
        for row in trial.reference["values"]["contrasts"].as_array().unwrap() {
            let target = target(row["target"].as_str().unwrap());
            for (sample, std_errors) in [
                (&trial.sample, "std_error_estimated"),
                (&trial.clustered, "std_error_estimated_clustered"),
            ] {
                let options = &trial.weights.options;
                let found = weighted_contrast_of_model(
                    sample,
                    &trial.is_treated,
                    &model,
                    options,
                    target,
                    0.95,
                );
                assert_same_contrast(&found.unwrap().unwrap(), row, std_errors);
            }
        }
    }
}

#[test]
fn repeated_covariate_changes_nothing() {
    let trial = trial("average", Population::Average);
    let mut columns = trial.covariates.columns().to_vec();
    columns.push(Covariate {
        name: "again".to_owned(),
        values: columns[0].values.iter().map(|x| 3.0 - 2.0 * x).collect(),
    });
    let twice = Covariates::new(trial.is_treated.len(), columns).unwrap();
    let contrast = |covariates| {
        let model = PropensityModel {
            covariates,
            propensity: &trial.propensity,
        };
        let (target, options) = (Target::EventFree { time: 12.0 }, &trial.weights.options);
        weighted_contrast_of_model(
            &trial.sample,
            &trial.is_treated,
            &model,
            options,
            target,
            0.95,
        )
        .unwrap()
        .unwrap()
    };
    assert_near(
        contrast(&twice).difference.std_error,
        contrast(&trial.covariates).difference.std_error,
        1e-12,
    );
}

#[test]
fn target_past_the_last_observation_is_not_estimable() {
    let trial = trial("average", Population::Average);
    for target in [
        Target::EventFree { time: 1e6 },
        Target::Incidence {
            cause: 1,
            time: 1e6,
        },
        Target::RestrictedMean {
            until: f64::INFINITY,
        },
        Target::EventFree { time: -1.0 },
        Target::EventFree { time: f64::NAN },
    ] {
        let found = weighted_contrast(
            &trial.sample,
            &trial.is_treated,
            &trial.weights,
            target,
            0.95,
        );
        assert_eq!(found, Ok(None));
    }
}

#[test]
fn cause_that_never_occurs_has_incidence_zero() {
    let trial = trial("average", Population::Average);
    let target = Target::Incidence {
        cause: 9,
        time: 10.0,
    };
    let found = weighted_contrast(
        &trial.sample,
        &trial.is_treated,
        &trial.weights,
        target,
        0.95,
    )
    .unwrap()
    .unwrap();
    assert_eq!(
        (found.treated.estimate, found.difference.std_error),
        (0.0, 0.0)
    );
}

#[test]
fn before_the_first_event_nothing_differs() {
    let trial = trial("average", Population::Average);
    let target = Target::EventFree { time: 0.0 };
    let found = weighted_contrast(
        &trial.sample,
        &trial.is_treated,
        &trial.weights,
        target,
        0.95,
    )
    .unwrap()
    .unwrap();
    assert_eq!(
        (
            found.treated.estimate,
            found.treated.std_error,
            found.difference.estimate
        ),
        (1.0, 0.0, 0.0)
    );
}

#[test]
fn lengths_and_levels_are_checked() {
    let trial = trial("average", Population::Average);
    let target = Target::EventFree { time: 5.0 };
    assert!(weighted_contrast(&trial.sample, &[true], &trial.weights, target, 0.95).is_err());
    assert!(
        weighted_contrast(
            &trial.sample,
            &trial.is_treated,
            &trial.weights,
            target,
            1.0
        )
        .is_err()
    );
    let short = propensity_weights(&[true, false], &[0.5; 2], &WeightOptions::default()).unwrap();
    assert!(weighted_contrast(&trial.sample, &trial.is_treated, &short, target, 0.95).is_err());
}

/// Rows in another order.
fn shuffled<T: Copy>(column: &[T]) -> Vec<T> {
    let n = column.len();
    (0..n).map(|row| column[(row * 7 + 3) % n]).collect()
}

#[test]
fn drawn_contrasts_vary_as_the_stacked_error_says_whatever_the_order_of_the_rows() {
    let trial = &trials()[0];
    let n = trial.sample.len();
    assert_ne!(n % 7, 0, "the shuffle is one");
    let target = target("restricted-mean@10");
    let weights = WeightOptions::default();
    let bootstrap = BootstrapOptions {
        n_repetitions: 400,
        seed: 5,
        level: 0.95,
        n_threads: None,
    };
    let draw = |sample: &Sample, is_treated: &[bool], covariates: &Covariates| {
        bootstrap_contrasts(
            sample,
            is_treated,
            covariates,
            &weights,
            &[target],
            &bootstrap,
        )
        .unwrap()
    };
    let found = draw(&trial.sample, &trial.is_treated, &trial.covariates);
    let model = survival::regression::logistic(
        &survival::regression::BinaryOutcomes::new(trial.is_treated.clone()).unwrap(),
        &trial.covariates,
        &survival::regression::LogisticOptions::default(),
    )
    .unwrap();
    let known = PropensityModel {
        covariates: &trial.covariates,
        propensity: &model.fitted,
    };
    let stacked = weighted_contrast_of_model(
        &trial.sample,
        &trial.is_treated,
        &known,
        &weights,
        target,
        0.95,
    )
    .unwrap()
    .unwrap();
    assert_near(
        found[0].difference.estimate.unwrap(),
        stacked.difference.estimate,
        1e-9,
    );
    assert_near(
        found[0].treated.estimate.unwrap(),
        stacked.treated.estimate,
        1e-9,
    );
    let ratio = found[0].difference.std_error.unwrap() / stacked.difference.std_error;
    assert!((0.75..1.35).contains(&ratio), "{ratio}");

    let columns = trial.covariates.columns().iter().map(|column| Covariate {
        name: column.name.clone(),
        values: shuffled(&column.values),
    });
    let covariates = Covariates::new(n, columns.collect()).unwrap();
    let sample = Sample::new(
        shuffled(trial.sample.exit()),
        shuffled(trial.sample.cause()),
    )
    .and_then(|sample| sample.with_entry(shuffled(trial.sample.entry().unwrap())))
    .unwrap();
    let again = draw(&sample, &shuffled(&trial.is_treated), &covariates);
    let [one, other] = [&found, &again].map(|found| found[0].difference);
    assert_near(one.std_error.unwrap(), other.std_error.unwrap(), 1e-9);
    assert_near(one.limits.unwrap().lower, other.limits.unwrap().lower, 1e-9);
}
