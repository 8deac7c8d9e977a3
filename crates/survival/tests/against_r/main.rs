//! Small random tables and what R says of them: `tests/scripts/random_tables.R` makes both.
#![allow(clippy::unwrap_used, reason = "tests")]

use serde_json::Value;
use std::path::Path;
use survival::interval::{
    Distribution, IntervalRegressionOptions, IntervalSample, interval_regression,
};
use survival::regression::cox::{CoxOptions, Ties, cox};
use survival::regression::{
    BinaryOutcomes, Covariate, Covariates, LogisticOptions, Penalty, Term, logistic,
};
use survival::{
    Curve, CurveOptions, EventHistory, GrayOptions, LogRankOptions, Sample, StateHistory, Variance,
    Weighting, aalen_johansen, gray_test, kaplan_meier, log_rank, mean_cumulative_count,
    restricted_mean, state_occupancy,
};

/// Curves are compared at these times.
const TIMES: [f64; 4] = [5.0, 10.0, 15.0, 20.0];

struct Case {
    name: String,
    value: Value,
}

impl Case {
    fn all() -> Vec<Case> {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("tests/reference/expected/random_tables.json");
        let text = std::fs::read_to_string(path).unwrap();
        let tables: Vec<Value> = serde_json::from_str(&text).unwrap();
        tables
            .into_iter()
            .map(|value| Case {
                name: format!("table {}", value["seed"][0]),
                value,
            })
            .collect()
    }

    fn numbers_of(&self, part: &str, column: &str) -> Vec<f64> {
        let cells = self.value[part][column].as_array();
        let cells = cells.unwrap_or_else(|| panic!("{part} {column}"));
        cells
            .iter()
            .map(|cell| cell.as_f64().unwrap_or(f64::NAN))
            .collect()
    }

    fn numbers(&self, column: &str) -> Vec<f64> {
        self.numbers_of("rows", column)
    }

    fn labels(&self, column: &str) -> Vec<u32> {
        self.numbers(column)
            .iter()
            .map(|&label| label as u32)
            .collect()
    }

    fn history(&self, column: &str) -> Vec<u32> {
        let labels = self.numbers_of("history", column);
        labels.iter().map(|&label| label as u32).collect()
    }

    /// Compares with what R gave; where R gave nothing, nothing is compared.
    fn check(&self, name: &str, found: &[f64], tolerance: f64) {
        let expected = self.numbers_of("values", name);
        assert_eq!(found.len(), expected.len(), "{} {name}", self.name);
        for (found, expected) in found.iter().zip(expected) {
            let is_near = (found - expected).abs() <= tolerance * (1.0 + expected.abs());
            assert!(
                expected.is_nan() || is_near,
                "{} {name}: {found} here, {expected} in R",
                self.name
            );
        }
    }

    fn sample(&self) -> Sample {
        Sample::new(self.numbers("exit"), self.labels("cause")).unwrap()
    }

    /// With entries, weights and clusters.
    fn full_sample(&self) -> Sample {
        self.sample()
            .with_entry(self.numbers("entry"))
            .and_then(|sample| sample.with_weight(self.numbers("weight")))
            .and_then(|sample| sample.with_cluster(self.labels("cluster")))
            .unwrap()
    }

    fn covariates(&self) -> Covariates {
        let column = |name: &str| Covariate {
            name: name.to_owned(),
            values: self.numbers(name),
        };
        let columns = vec![column("x"), column("z")];
        Covariates::new(self.numbers("exit").len(), columns).unwrap()
    }
}

fn robust() -> CurveOptions {
    CurveOptions {
        variance: Variance::Robust,
        ..CurveOptions::default()
    }
}

/// Estimates at the times; not a number past the last observation.
fn estimates(curve: &Curve) -> Vec<f64> {
    TIMES.map(|time| at_end(curve, time).0).to_vec()
}

fn std_errors(curve: &Curve) -> Vec<f64> {
    TIMES.map(|time| at_end(curve, time).1).to_vec()
}

/// R carries a curve on past the last observation; so does this, for comparison's sake.
fn at_end(curve: &Curve, time: f64) -> (f64, f64) {
    let last = curve.points.last().unwrap();
    let point = curve.at(time.min(last.time)).unwrap();
    (point.estimate, point.std_error.unwrap_or(0.0))
}

fn of_terms(terms: &[Term], of: impl Fn(&Term) -> Option<f64>) -> Vec<f64> {
    terms.iter().map(|term| of(term).unwrap()).collect()
}

#[test]
fn grays_test_with_and_without_strata() {
    for case in Case::all() {
        let (sample, group, stratum) =
            (case.sample(), case.labels("group"), case.labels("stratum"));
        for cause in [1, 2] {
            for rho in [0, 1] {
                let options = GrayOptions {
                    rho: f64::from(rho),
                };
                let statistic = |stratum: Option<&[u32]>| {
                    let test = gray_test(&sample, cause, &group, stratum, &options).unwrap();
                    test.statistic.unwrap()
                };
                let found = [statistic(None), statistic(Some(&stratum))];
                case.check(&format!("gray_{cause}_{rho}"), &found, 1e-7);
            }
        }
    }
}

#[test]
fn curves_with_weights_entries_and_clusters() {
    for case in Case::all() {
        let sample = case.full_sample();
        let curve = kaplan_meier(&sample, &robust()).unwrap();
        case.check("curve", &estimates(&curve), 1e-10);
        case.check("curve_error", &std_errors(&curve), 1e-8);
        let incidence = aalen_johansen(&sample, &robust()).unwrap();
        let first = incidence.of_cause(1).unwrap();
        case.check("incidence", &estimates(first), 1e-10);
        case.check("incidence_error", &std_errors(first), 1e-8);
    }
}

#[test]
fn restricted_means() {
    for case in Case::all() {
        let group = case.labels("group");
        for wanted in 1..=3 {
            let own = case.sample().rows(|row| group[row] == wanted).unwrap();
            let mean = restricted_mean(&own, 12.0, &CurveOptions::default()).unwrap();
            let found = [mean.estimate, mean.std_error];
            case.check(&format!("mean_{wanted}"), &found, 1e-8);
        }
    }
}

#[test]
fn log_rank_within_strata() {
    for case in Case::all() {
        let statistic = |weighting| {
            let options = LogRankOptions {
                weighting,
                ..LogRankOptions::default()
            };
            let stratum = case.labels("stratum");
            let found = log_rank(
                &case.sample(),
                &case.labels("group"),
                Some(&stratum),
                &options,
            );
            found.unwrap().test.statistic.unwrap()
        };
        let by_event_free = Weighting::FlemingHarrington { p: 1.0, q: 0.0 };
        let found = [statistic(Weighting::LogRank), statistic(by_event_free)];
        case.check("log_rank", &found, 1e-9);
    }
}

#[test]
fn cox_with_weights_strata_entries_and_clusters() {
    for case in Case::all() {
        for (name, ties) in [("cox_efron", Ties::Efron), ("cox_breslow", Ties::Breslow)] {
            let options = CoxOptions {
                ties,
                cause: Some(1),
                ..CoxOptions::default()
            };
            let stratum = case.labels("stratum");
            let fit = cox(
                &case.full_sample(),
                &case.covariates(),
                Some(&stratum),
                &options,
            );
            let fit = fit.unwrap();
            let mut found = of_terms(&fit.terms, |term| term.estimate);
            found.extend(of_terms(&fit.terms, |term| term.std_error));
            found.extend(of_terms(&fit.terms, |term| term.robust_std_error));
            found.extend([fit.log_likelihood_null, fit.log_likelihood]);
            case.check(name, &found, 1e-7);
        }
    }
}

#[test]
fn interval_regression_with_weights() {
    for case in Case::all() {
        let upper = case.numbers("upper").into_iter();
        let upper = upper.map(|end| if end.is_nan() { f64::INFINITY } else { end });
        let sample = IntervalSample::new(case.numbers("lower"), upper.collect())
            .and_then(|sample| sample.with_weight(case.numbers("weight")))
            .unwrap();
        for (name, distribution) in [
            ("interval_weibull", Distribution::Weibull),
            ("interval_lognormal", Distribution::LogNormal),
            ("interval_exponential", Distribution::Exponential),
        ] {
            let options = IntervalRegressionOptions {
                distribution,
                ..IntervalRegressionOptions::default()
            };
            let fit = interval_regression(&sample, &case.covariates(), &options).unwrap();
            let mut found = of_terms(&fit.terms, |term| term.estimate);
            found.extend(of_terms(&fit.terms, |term| term.std_error));
            found.push(fit.log_likelihood);
            case.check(name, &found, 1e-6);
        }
    }
}

#[test]
fn logistic_with_weights_and_with_firths_penalty() {
    for case in Case::all() {
        let outcome: Vec<bool> = case
            .labels("cause")
            .iter()
            .map(|&cause| cause == 1)
            .collect();
        let plain = BinaryOutcomes::new(outcome).unwrap();
        let weighted = plain.clone().with_weight(case.numbers("weight")).unwrap();
        let fit = logistic(&weighted, &case.covariates(), &LogisticOptions::default()).unwrap();
        let mut found = of_terms(&fit.terms, |term| term.estimate);
        found.extend(of_terms(&fit.terms, |term| term.std_error));
        found.push(fit.log_likelihood);
        case.check("logistic", &found, 1e-7);
        let options = LogisticOptions {
            penalty: Penalty::Firth,
            ..LogisticOptions::default()
        };
        let fit = logistic(&plain, &case.covariates(), &options).unwrap();
        case.check("firth", &of_terms(&fit.terms, |term| term.estimate), 1e-8);
    }
}

#[test]
fn occupancy_of_states_that_come_back_with_weights() {
    for case in Case::all() {
        let to = case.history("to");
        let history = StateHistory::new(
            case.history("subject"),
            case.numbers_of("history", "start"),
            case.numbers_of("history", "stop"),
            case.history("from"),
            to.into_iter().map(|to| (to > 0).then_some(to)).collect(),
        )
        .and_then(|history| history.with_weight(case.numbers_of("history", "weight")))
        .unwrap();
        let found = state_occupancy(&history, &robust()).unwrap();
        let by_time = |of: fn(&Curve, f64) -> f64| -> Vec<f64> {
            let of_time = |time: &f64| {
                let states = found.states.iter();
                states.map(|curve| of(curve, *time)).collect::<Vec<f64>>()
            };
            TIMES.iter().flat_map(of_time).collect()
        };
        case.check(
            "occupancy",
            &by_time(|curve, time| at_end(curve, time).0),
            1e-10,
        );
        case.check(
            "occupancy_error",
            &by_time(|curve, time| at_end(curve, time).1),
            1e-8,
        );
    }
}

#[test]
fn mean_counts_with_delayed_entry() {
    for case in Case::all() {
        let counted = case.history("to").into_iter().map(|to| u32::from(to == 2));
        let history = EventHistory::new(
            case.history("subject"),
            case.numbers_of("history", "start"),
            case.numbers_of("history", "stop"),
            counted.collect(),
            &[],
        );
        let curve = mean_cumulative_count(&history.unwrap(), &robust()).unwrap();
        case.check("mean_count", &estimates(&curve), 1e-10);
        case.check("mean_count_error", &std_errors(&curve), 1e-8);
    }
}
