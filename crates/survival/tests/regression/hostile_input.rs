//! Whatever the columns hold: no panic, and no number that is not finite.

use proptest::prelude::*;
use serde_json::Value;
use survival::Sample;
use survival::interval::{
    Distribution, IntervalRegressionOptions, IntervalSample, interval_regression, npmle,
};
use survival::regression::concordance::TimeWeight;
use survival::regression::cox::{CoxOptions, Ties, TimeTransform, cox};
use survival::regression::fine_gray::{CensoringOrder, FineGrayOptions, fine_gray};
use survival::regression::{
    BinaryOutcomes, Covariate, Covariates, LogisticOptions, Penalty, c_statistic, calibration,
    logistic,
};

/// Numbers as a damaged export may hold them.
fn hostile() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => (0_i32..6).prop_map(f64::from),
        2 => -3.0..3.0_f64,
        1 => prop_oneof![Just(1e300), Just(-1e300), Just(1e-300), Just(1e15), Just(f64::MAX), Just(-0.0)],
    ]
}

/// Times of 0 or more, mostly tied.
fn time() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => (0_u32..5).prop_map(f64::from),
        2 => 0.0..5.0_f64,
        1 => prop_oneof![Just(1e300), Just(1e-300), Just(f64::MAX), Just(f64::INFINITY), Just(f64::NAN), Just(-1.0)],
    ]
}

fn weight() -> impl Strategy<Value = f64> {
    prop_oneof![6 => Just(1.0), 2 => 0.0..3.0_f64, 1 => prop_oneof![Just(0.0), Just(1e-12), Just(1e12)]]
}

#[derive(Debug, Clone)]
struct Row {
    entry: f64,
    exit: f64,
    cause: u32,
    weight: f64,
    cluster: u32,
    stratum: u32,
    x: f64,
    z: f64,
}

fn rows() -> impl Strategy<Value = Vec<Row>> {
    let row = (
        time(),
        time(),
        0_u32..3,
        weight(),
        0_u32..5,
        0_u32..2,
        hostile(),
        hostile(),
    )
        .prop_map(|(entry, exit, cause, weight, cluster, stratum, x, z)| Row {
            entry,
            exit,
            cause,
            weight,
            cluster,
            stratum,
            x,
            z,
        });
    prop::collection::vec(row, 0..25)
}

fn covariates(rows: &[Row]) -> Covariates {
    let x = Covariate {
        name: "x".into(),
        values: rows.iter().map(|row| row.x).collect(),
    };
    let z = Covariate {
        name: "z".into(),
        values: rows.iter().map(|row| row.z).collect(),
    };
    Covariates::new(rows.len(), vec![x, z]).unwrap()
}

fn column(rows: &[Row], value: impl Fn(&Row) -> f64) -> Vec<f64> {
    rows.iter().map(value).collect()
}

/// A JSON number that is not finite is written as null; so a value that serialises with a null where the type has no
/// `Option` would be a silent one. Named here are the fields that may be null.
fn assert_finite(value: &Value, path: &str, may_be_null: &[&str]) {
    match value {
        Value::Null => assert!(
            may_be_null.iter().any(|name| path.ends_with(name)),
            "{path} is not finite"
        ),
        Value::Array(cells) => cells
            .iter()
            .for_each(|cell| assert_finite(cell, path, may_be_null)),
        Value::Object(fields) => fields
            .iter()
            .for_each(|(name, field)| assert_finite(field, &format!("{path}.{name}"), may_be_null)),
        _ => {}
    }
}

const OPTIONAL: [&str; 16] = [
    "estimate",
    "std_error",
    "robust_std_error",
    "lower",
    "upper",
    "p_value",
    "robust_covariance",
    "wald_test",
    "model_based_wald_test",
    "n_clusters",
    "cause",
    "likelihood_ratio_test",
    "test",
    "cumulative_hazard",
    "martingale",
    "deviance",
];

fn assert_all_finite(value: &impl serde::Serialize) {
    assert_finite(&serde_json::to_value(value).unwrap(), "", &OPTIONAL);
}

fn sample(rows: &[Row], is_late: bool, is_weighted: bool, is_clustered: bool) -> Option<Sample> {
    let mut sample = Sample::new(
        column(rows, |row| row.exit),
        rows.iter().map(|row| row.cause).collect(),
    )
    .ok()?;
    if is_late {
        sample = sample.with_entry(column(rows, |row| row.entry)).ok()?;
    }
    if is_weighted {
        sample = sample.with_weight(column(rows, |row| row.weight)).ok()?;
    }
    if is_clustered {
        sample = sample
            .with_cluster(rows.iter().map(|row| row.cluster).collect())
            .ok()?;
    }
    Some(sample)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, max_shrink_iters: 2000, ..ProptestConfig::default() })]

    #[test]
    fn hazard_models_answer_or_refuse(
        rows in rows(), is_late in any::<bool>(), is_weighted in any::<bool>(), is_clustered in any::<bool>(), is_stratified in any::<bool>(),
        ties in prop_oneof![Just(Ties::Efron), Just(Ties::Breslow), Just(Ties::Exact)], cause in prop_oneof![Just(None), Just(Some(1))],
    ) {
        let strata: Vec<u32> = rows.iter().map(|row| row.stratum).collect();
        let Some(sample) = sample(&rows, is_late, is_weighted, is_clustered) else { return Ok(()) };
        let options = CoxOptions { ties, cause, ..CoxOptions::default() };
        let Ok(fit) = cox(&sample, &covariates(&rows), is_stratified.then_some(&strata[..]), &options) else { return Ok(()) };
        assert_all_finite(&fit);
        if let Some(concordance) = fit.concordance(TimeWeight::AtRisk) {
            assert_all_finite(&concordance);
        }
        if let Ok(test) = fit.robust_score_test() {
            assert_all_finite(&test);
        }
        if let Ok(baselines) = fit.baseline() {
            for baseline in &baselines {
                // a row of zeros may lie so far outside the data that its hazard leaves the range of the numbers
                if baseline.steps.iter().all(|step| step.cumulative_hazard.is_finite()) {
                    assert_all_finite(baseline);
                }
            }
            prop_assert!(fit.residuals().unwrap().martingale.iter().flatten().all(|residual| residual.is_finite()));
            let stratum = baselines[0].stratum;
            assert_all_finite(&fit.adjusted_curve(&covariates(&rows), stratum, &[0.0, 1.0, 3.0]).unwrap());
        }
        for transform in [TimeTransform::Identity, TimeTransform::Log, TimeTransform::KaplanMeier, TimeTransform::Rank] {
            if let Ok(test) = fit.proportionality_test(transform) {
                assert_all_finite(&test);
            }
        }
    }

    #[test]
    fn incidence_models_answer_or_refuse(
        rows in rows(), is_weighted in any::<bool>(), is_clustered in any::<bool>(), is_efron in any::<bool>(), is_together in any::<bool>(),
    ) {
        let Some(sample) = sample(&rows, false, is_weighted, is_clustered) else { return Ok(()) };
        let options = FineGrayOptions {
            ties: if is_efron { Ties::Efron } else { Ties::Breslow },
            censoring_order: if is_together { CensoringOrder::Together } else { CensoringOrder::EventsFirst },
            ..FineGrayOptions::default()
        };
        if let Ok(fit) = fine_gray(&sample, &covariates(&rows), None, &options) {
            assert_all_finite(&fit);
        }
    }

    #[test]
    fn interval_estimates_answer_or_refuse(rows in rows(), is_weighted in any::<bool>(), is_clustered in any::<bool>()) {
        let ends = rows.iter().map(|row| if row.entry == 1e300 { f64::INFINITY } else { row.exit.max(row.entry) }).collect();
        let Ok(mut sample) = IntervalSample::new(column(&rows, |row| row.entry.min(row.exit)), ends) else { return Ok(()) };
        if is_weighted {
            let Ok(weighted) = sample.with_weight(column(&rows, |row| row.weight)) else { return Ok(()) };
            sample = weighted;
        }
        if is_clustered {
            sample = sample.with_cluster(rows.iter().map(|row| row.cluster).collect()).unwrap();
        }
        let estimate = npmle(&sample).unwrap();
        prop_assert!(estimate.log_likelihood.is_finite());
        prop_assert!(estimate.masses.iter().all(|mass| mass.probability > 0.0 && mass.probability <= 1.0 + 1e-12));
        for distribution in [Distribution::Weibull, Distribution::LogNormal, Distribution::Exponential] {
            let options = IntervalRegressionOptions { distribution, ..IntervalRegressionOptions::default() };
            if let Ok(fit) = interval_regression(&sample, &covariates(&rows), &options) {
                assert_all_finite(&fit);
            }
        }
    }

    #[test]
    fn logistic_models_answer_or_refuse(rows in rows(), is_weighted in any::<bool>(), is_penalised in any::<bool>()) {
        let Ok(mut outcomes) = BinaryOutcomes::new(rows.iter().map(|row| row.cause == 1).collect()) else { return Ok(()) };
        if is_weighted {
            let Ok(weighted) = outcomes.with_weight(column(&rows, |row| row.weight)) else { return Ok(()) };
            outcomes = weighted;
        }
        let penalty = if is_penalised { Penalty::Firth } else { Penalty::None };
        if let Ok(fit) = logistic(&outcomes, &covariates(&rows), &LogisticOptions { penalty, ..LogisticOptions::default() }) {
            assert_all_finite(&fit);
            if let Ok(found) = calibration(&outcomes, &fit.fitted, 0.95) {
                assert_all_finite(&found);
            }
        }
        if let Ok(Some(found)) = c_statistic(&outcomes, &column(&rows, |row| row.x)) {
            assert_all_finite(&found);
        }
    }
}
