//! Tests between groups: the log-rank family against R survival 3.5-3 (survdiff, exact score test) and an own R
//! implementation; Gray's test against cmprsk 2.2.11; Freireich's trial as printed.

use crate::support::{Table, assert_close, cases};
use serde_json::Value;
use survival::{
    ChiSquaredTest, GrayOptions, LogRank, LogRankOptions, LogRankVariance, Sample, SurvivalError,
    Weighting, gray_test, log_rank,
};

/// Codes of the groups in the order the case lists them.
fn group_codes(table: &Table, case: &Value, groups: &[&str]) -> Vec<u32> {
    table
        .text(case["columns"]["group"].as_str().unwrap())
        .iter()
        .map(|cell| groups.iter().position(|group| group == cell).unwrap() as u32)
        .collect()
}

#[track_caller]
fn assert_relative(what: &str, found: Option<f64>, expected: &Value, tolerance: f64) {
    let (found, expected) = (found.unwrap(), expected.as_f64().unwrap());
    assert!(
        (found - expected).abs() <= tolerance * expected.abs().max(1e-300),
        "{what}: found {found}, expected {expected}"
    );
}

fn assert_test(what: &str, found: &ChiSquaredTest, expected: &Value, tolerance: f64) {
    let statistic = if expected["chisq"].is_null() {
        &expected["statistic"]
    } else {
        &expected["chisq"]
    };
    assert_relative(what, found.statistic, statistic, tolerance);
    assert_eq!(found.df as u64, expected["df"].as_u64().unwrap(), "{what}");
    let p_value = [&expected["p"], &expected["pvalue"]]
        .into_iter()
        .rfind(|p| p.is_number());
    // fleming-harrington uses `p` for its power
    let p_value = if expected["q"].is_number() {
        &expected["pvalue"]
    } else {
        p_value.unwrap()
    };
    assert_close(&format!("{what} p"), found.p_value, p_value.as_f64(), 1e-8);
}

#[test]
fn the_log_rank_family_agrees_with_reference_values() {
    let mut n_tests = 0;
    for case in cases("logrank.json") {
        let table = Table::of_case(&case);
        let values = &case["values"];
        let groups: Vec<&str> = values["groups"]
            .as_array()
            .unwrap()
            .iter()
            .map(|group| group.as_str().unwrap())
            .collect();
        let group = group_codes(&table, &case, &groups);
        let rows: Vec<usize> = (0..group.len()).collect();
        let sample = table.sample(&case, &rows);
        let strata = case["columns"]["strata"]
            .as_str()
            .map(|column| table.codes(column));
        let run = |weighting: Weighting, trend_scores: Option<Vec<f64>>| -> LogRank {
            let options = LogRankOptions {
                weighting,
                trend_scores,
                ..LogRankOptions::default()
            };
            log_rank(&sample, &group, strata.as_deref(), &options).unwrap()
        };
        let mut expected = vec![
            (Weighting::LogRank, &values["logrank"]),
            (Weighting::GehanBreslow, &values["gehan"]),
            (Weighting::TaroneWare, &values["tarone_ware"]),
            (Weighting::PetoPeto, &values["peto_peto"]),
            (Weighting::PetoPetoModified, &values["peto_peto_modified"]),
        ];
        for value in values["fleming_harrington"].as_array().unwrap() {
            let (p, q) = (value["p"].as_f64().unwrap(), value["q"].as_f64().unwrap());
            expected.push((Weighting::FlemingHarrington { p, q }, value));
        }
        for (weighting, expected) in expected {
            n_tests += 1;
            let name = format!("{} {weighting:?}", case["id"]);
            let found = run(weighting, None);
            assert_test(&name, &found.test, expected, 1e-7);
            for (place, row) in found.covariance.iter().enumerate() {
                assert_close(
                    &name,
                    Some(found.score[place]),
                    expected["score"][place].as_f64(),
                    1e-8,
                );
                for (other, covariance) in row.iter().enumerate() {
                    assert_close(
                        &name,
                        Some(*covariance),
                        expected["variance"][place][other].as_f64(),
                        1e-8,
                    );
                }
            }
        }
        let plain = run(Weighting::LogRank, None);
        for (place, group) in plain.groups.iter().enumerate() {
            assert_eq!(Some(group.n as u64), values["n"][place].as_u64());
            assert_close(
                "observed",
                Some(group.observed),
                values["observed"][place].as_f64(),
                1e-12,
            );
            assert_close(
                "expected",
                Some(group.expected),
                values["expected"][place].as_f64(),
                1e-10,
            );
        }
        if values["trend"].is_object() {
            let scores: Vec<f64> = match values["trend"]["scores"].as_array() {
                Some(scores) => scores.iter().map(|score| score.as_f64().unwrap()).collect(),
                None => (1..=groups.len()).map(|score| score as f64).collect(),
            };
            let found = run(Weighting::LogRank, Some(scores)).trend.unwrap();
            assert_relative("trend", found.statistic, &values["trend"]["chisq"], 1e-7);
        }
    }
    assert!(n_tests >= 40, "only {n_tests} tests were compared");
}

#[test]
fn grays_test_agrees_with_reference_values() {
    let mut n_tests = 0;
    for case in cases("cr.json") {
        if case["method"] != "gray_test" {
            continue;
        }
        let table = Table::of_case(&case);
        let group = table.codes(case["columns"]["group"].as_str().unwrap());
        let rows: Vec<usize> = (0..group.len()).collect();
        let sample = table.sample(&case, &rows);
        let strata = case["columns"]["strata"]
            .as_str()
            .map(|column| table.codes(column));
        for by_rho in case["values"]["by_rho"].as_array().unwrap() {
            let options = GrayOptions {
                rho: by_rho["rho"].as_f64().unwrap(),
            };
            for expected in by_rho["tests"].as_array().unwrap() {
                n_tests += 1;
                let cause = expected["cause"].as_u64().unwrap() as u32;
                let found = gray_test(&sample, cause, &group, strata.as_deref(), &options).unwrap();
                assert_test(
                    &format!("{} cause {cause} {options:?}", case["id"]),
                    &found,
                    expected,
                    1e-6,
                );
            }
        }
    }
    assert!(n_tests >= 6, "only {n_tests} tests were compared");
}

/// Freireich's trial, weeks; Andersen, Borgan, Gill, Keiding 1993 and many textbooks.
fn freireich() -> (Sample, Vec<u32>) {
    let treated = [
        (6, 1),
        (6, 1),
        (6, 1),
        (6, 0),
        (7, 1),
        (9, 0),
        (10, 1),
        (10, 0),
        (11, 0),
        (13, 1),
        (16, 1),
        (17, 0),
        (19, 0),
        (20, 0),
        (22, 1),
        (23, 1),
        (25, 0),
        (32, 0),
        (32, 0),
        (34, 0),
        (35, 0),
    ];
    let control = [
        1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23,
    ];
    let rows: Vec<(u32, u32)> = treated
        .into_iter()
        .chain(control.map(|week| (week, 1)))
        .collect();
    let sample = Sample::new(
        rows.iter().map(|&(week, _)| f64::from(week)).collect(),
        rows.iter().map(|&(_, cause)| cause).collect(),
    )
    .unwrap();
    (sample, (0..42).map(|row| u32::from(row >= 21)).collect())
}

#[test]
fn freireichs_trial_gives_the_printed_statistics() {
    let (sample, group) = freireich();
    let found = log_rank(&sample, &group, None, &LogRankOptions::default()).unwrap();
    assert!((found.groups[0].expected - 19.25050).abs() < 5e-6);
    assert!((found.groups[1].expected - 10.74950).abs() < 5e-6);
    assert!((found.covariance[0][0] - 6.25696).abs() < 5e-6);
    assert!((found.test.statistic.unwrap() - 16.79294).abs() < 5e-6);
    assert!((found.test.p_value.unwrap() - 4.169e-5).abs() < 5e-9);
    for (weighting, statistic) in [
        (Weighting::GehanBreslow, 13.458),
        (Weighting::FlemingHarrington { p: 1.0, q: 0.0 }, 14.457),
    ] {
        let options = LogRankOptions {
            weighting,
            ..LogRankOptions::default()
        };
        let found = log_rank(&sample, &group, None, &options).unwrap();
        assert!(
            (found.test.statistic.unwrap() - statistic).abs() < 5e-4,
            "{weighting:?} {found:?}"
        );
    }
}

#[test]
fn with_nothing_to_compare_there_is_no_statistic() {
    let censored = Sample::new(vec![1.0, 2.0, 3.0], vec![0, 0, 0]).unwrap();
    let found = log_rank(&censored, &[0, 1, 1], None, &LogRankOptions::default()).unwrap();
    assert_eq!((found.test.statistic, found.test.df), (None, 0));
    let alone = Sample::new(vec![1.0, 2.0, 3.0], vec![1, 2, 1]).unwrap();
    let found = log_rank(&alone, &[4, 4, 4], None, &LogRankOptions::default()).unwrap();
    assert_eq!(found.test.statistic, None);
    assert_eq!(
        gray_test(&alone, 1, &[4, 4, 4], None, &GrayOptions::default())
            .unwrap()
            .statistic,
        None
    );
    assert_eq!(
        gray_test(&alone, 9, &[0, 1, 1], None, &GrayOptions::default())
            .unwrap()
            .statistic,
        None
    );
    let late = alone.with_entry(vec![0.0, 1.0, 0.0]).unwrap();
    assert!(matches!(
        gray_test(&late, 1, &[0, 1, 1], None, &GrayOptions::default()),
        Err(SurvivalError::NotDefined { .. })
    ));
}

#[test]
fn a_group_never_at_risk_at_an_event_takes_no_degree_of_freedom() {
    let sample = Sample::new(vec![1.0, 5.0, 6.0, 7.0, 8.0], vec![0, 1, 1, 0, 1]).unwrap();
    let found = log_rank(&sample, &[2, 0, 1, 0, 1], None, &LogRankOptions::default()).unwrap();
    assert_eq!(found.test.df, 1);
    let without = sample.rows(|row| row > 0).unwrap();
    let same = log_rank(&without, &[0, 1, 0, 1], None, &LogRankOptions::default()).unwrap();
    assert_eq!(found.test, same.test);
}

#[test]
fn rows_doubled_within_clusters_leave_the_robust_test_unchanged() {
    let (sample, group) = freireich();
    let options = LogRankOptions {
        variance: LogRankVariance::Robust,
        ..LogRankOptions::default()
    };
    let once = log_rank(&sample, &group, None, &options).unwrap();
    let twice = |column: &[f64]| [column, column].concat();
    let doubled = Sample::new(
        twice(sample.exit()),
        [sample.cause(), sample.cause()].concat(),
    )
    .unwrap()
    .with_cluster((0..42).chain(0..42).collect())
    .unwrap();
    let found = log_rank(&doubled, &[group.clone(), group].concat(), None, &options).unwrap();
    let (once, found) = (once.test.statistic.unwrap(), found.test.statistic.unwrap());
    assert!((once - found).abs() < 1e-10, "{once} {found}");
}

/// R survival 3.5-3: robust score test of `coxph(ties = "breslow")` at no effect, without and with clusters of three rows.
#[test]
fn the_robust_test_is_the_robust_score_test_at_no_effect() {
    let (sample, group) = freireich();
    let options = LogRankOptions {
        variance: LogRankVariance::Robust,
        ..LogRankOptions::default()
    };
    let found = log_rank(&sample, &group, None, &options).unwrap();
    assert!(
        (found.test.statistic.unwrap() - 22.322_212_698_549_6).abs() < 1e-9,
        "{found:?}"
    );
    let clustered = sample
        .with_cluster((1..=42).map(|row| row / 3).collect())
        .unwrap();
    let found = log_rank(&clustered, &group, None, &options).unwrap();
    assert!(
        (found.test.statistic.unwrap() - 8.043_630_284_481_22).abs() < 1e-9,
        "{found:?}"
    );
}
