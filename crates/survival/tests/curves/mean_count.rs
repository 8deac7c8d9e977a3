//! Mean cumulative counts against R survival 3.5-3 and, with terminal events, mets 1.3.2; small cases by hand.

use crate::support::{Table, assert_close, cases, label, numbers};
use serde_json::Value;
use survival::{CurveOptions, EventHistory, SurvivalError, Variance, mean_cumulative_count};

fn options(variance: Variance) -> CurveOptions {
    CurveOptions {
        variance,
        ..CurveOptions::default()
    }
}

/// The rows of one group; cause 1 counts, 2 is terminal.
fn history(case: &Value, table: &Table, group: &Value, with_terminal: bool) -> EventHistory {
    let columns = &case["columns"];
    let column = |role: &str| columns[role].as_str();
    let subject = table.codes(column("id").unwrap());
    let stop = table.numbers(column("stop").unwrap());
    let (event, terminal): (Vec<bool>, Vec<bool>) = if case["id"] == "mcf-bladder1" {
        let status = table.numbers("status");
        (
            status.iter().map(|&status| status == 1.0).collect(),
            status
                .iter()
                .map(|&status| status == 2.0 || status == 3.0)
                .collect(),
        )
    } else {
        let flags = |role: &str| {
            column(role).map(|name| {
                table
                    .numbers(name)
                    .iter()
                    .map(|&flag| flag == 1.0)
                    .collect::<Vec<bool>>()
            })
        };
        (
            flags("event").unwrap(),
            flags("terminal").unwrap_or_else(|| vec![false; stop.len()]),
        )
    };
    let start = match column("start") {
        Some(name) => table.numbers(name),
        None => {
            // each row starts where the subject's row before it ended
            let mut order: Vec<usize> = (0..stop.len()).collect();
            order.sort_by(|&left, &right| {
                (subject[left], stop[left])
                    .partial_cmp(&(subject[right], stop[right]))
                    .unwrap()
            });
            let mut start = vec![0.0; stop.len()];
            for pair in order.windows(2) {
                if subject[pair[0]] == subject[pair[1]] {
                    start[pair[1]] = stop[pair[0]];
                }
            }
            start
        }
    };
    let rows: Vec<usize> = table
        .rows_of(case, group)
        .into_iter()
        .filter(|&row| case["columns"]["filter"].is_null() || stop[row] > start[row])
        .collect();
    EventHistory::new(
        rows.iter().map(|&row| subject[row]).collect(),
        rows.iter().map(|&row| start[row]).collect(),
        rows.iter().map(|&row| stop[row]).collect(),
        rows.iter()
            .map(|&row| {
                if event[row] {
                    1
                } else if with_terminal && terminal[row] {
                    2
                } else {
                    0
                }
            })
            .collect(),
        &[2],
    )
    .unwrap()
}

#[test]
fn mean_counts_and_variances_agree_with_reference_values() {
    let (mut n_plain, mut n_terminal) = (0, 0);
    for case in cases("mcf.json") {
        let table = Table::of_case(&case);
        for expected in case["values"]["curves"].as_array().unwrap() {
            let name = format!("{} {}", case["id"], label(&expected["group"]));
            let plain = history(&case, &table, &expected["group"], false);
            assert_eq!(
                Some(plain.n_subjects() as u64),
                expected["n"].as_u64(),
                "{name}"
            );
            let robust = mean_cumulative_count(&plain, &options(Variance::Robust)).unwrap();
            let poisson = mean_cumulative_count(&plain, &options(Variance::Aalen)).unwrap();
            let with_terminal = history(&case, &table, &expected["group"], true);
            let marginal =
                mean_cumulative_count(&with_terminal, &options(Variance::Robust)).unwrap();
            for (place, time) in numbers(&expected["time"]).into_iter().enumerate() {
                let time = time.unwrap();
                let Some(point) = robust.at(time) else {
                    continue;
                };
                let at = |key: &str| numbers(&expected[key])[place];
                let name = format!("{name} at {time}");
                assert_close(&name, Some(point.estimate), at("mcf"), 1e-10);
                assert_close(&name, point.std_error, at("std_err_robust"), 1e-8);
                assert_close(
                    &name,
                    poisson.at(time).unwrap().std_error,
                    at("std_err_poisson"),
                    1e-8,
                );
                n_plain += 1;
                if expected["ghosh_lin_mcf"].is_array() {
                    let point = marginal.at(time).unwrap();
                    assert_close(&name, Some(point.estimate), at("ghosh_lin_mcf"), 1e-10);
                    if expected["ghosh_lin_std_err"].is_array() {
                        assert_close(&name, point.std_error, at("ghosh_lin_std_err"), 1e-8);
                    }
                    n_terminal += 1;
                }
            }
        }
    }
    assert!(n_plain >= 20 && n_terminal >= 5, "{n_plain} {n_terminal}");
}

#[test]
fn two_events_of_a_subject_on_one_day_count_as_two() {
    // subjects 1 and 2 under observation to 10; subject 1 has two events at 5
    let history = EventHistory::new(
        vec![1, 1, 1, 2],
        vec![0.0, 5.0, 5.0, 0.0],
        vec![5.0, 5.0, 10.0, 10.0],
        vec![1, 1, 0, 0],
        &[],
    )
    .unwrap();
    let curve = mean_cumulative_count(&history, &options(Variance::Robust)).unwrap();
    let point = curve.at(5.0).unwrap();
    assert_eq!(
        (point.n_at_risk, point.n_events, point.estimate),
        (2.0, 2.0, 1.0)
    );
    // influences (2 - 1)/2 and (0 - 1)/2
    assert!((point.std_error.unwrap() - 0.5_f64.sqrt()).abs() < 1e-15);
    assert_eq!(curve.n, 2);
}

#[test]
fn after_a_death_the_mean_counts_per_subject_who_started() {
    // one of four dies at 1; one of the three left has an event at 2: 3/4 times 1/3
    let history = EventHistory::new(
        vec![1, 2, 3, 4, 3],
        vec![0.0, 0.0, 0.0, 0.0, 2.0],
        vec![1.0, 3.0, 2.0, 3.0, 3.0],
        vec![9, 0, 1, 0, 0],
        &[9],
    )
    .unwrap();
    let curve = mean_cumulative_count(&history, &options(Variance::Robust)).unwrap();
    let point = curve.at(2.0).unwrap();
    assert!((point.estimate - 0.25).abs() < 1e-15);
    // Ghosh and Lin's influences: of the death -1/4 (1/4 - 1/16), of living on 1/64; of the event 1/4 (1 - 1/3), of none -1/12
    let (death, lived): (f64, f64) = (-3.0 / 64.0, 1.0 / 64.0);
    let expected = death.powi(2) + (lived + 1.0 / 6.0).powi(2) + 2.0 * (lived - 1.0 / 12.0).powi(2);
    assert!((point.std_error.unwrap().powi(2) - expected).abs() < 1e-15);
}

#[test]
fn rows_that_contradict_each_other_are_refused() {
    let history = |start: Vec<f64>, stop: Vec<f64>, cause: Vec<u32>| {
        EventHistory::new(vec![7; start.len()], start, stop, cause, &[2])
    };
    assert_eq!(
        history(vec![0.0, 3.0], vec![5.0, 8.0], vec![0, 0]),
        Err(SurvivalError::OverlappingRows { row: 2 })
    );
    assert_eq!(
        history(vec![0.0, 5.0], vec![5.0, 8.0], vec![2, 0]),
        Err(SurvivalError::RowAfterEnd { row: 2 })
    );
    assert_eq!(
        history(vec![0.0, 6.0], vec![5.0, 6.0], vec![0, 1]),
        Err(SurvivalError::EventAtEntry { row: 2 })
    );
    assert_eq!(
        history(vec![4.0], vec![3.0], vec![0]),
        Err(SurvivalError::ExitBeforeEntry { row: 1 })
    );
    let fine = history(vec![0.0], vec![3.0], vec![1]).unwrap();
    assert!(matches!(
        mean_cumulative_count(&fine, &options(Variance::Greenwood)),
        Err(SurvivalError::NotDefined { .. })
    ));
}
