//! Occupancies against R survival 3.5-3 and etm 1.1.1, Aalen-Johansen as a special case, and small cases.

use crate::support::{Table, assert_close, cases, numbers};
use proptest::prelude::*;
use serde_json::Value;
use survival::{
    CurveNote, CurveOptions, Sample, StateHistory, SurvivalError, Variance, aalen_johansen,
    expected_time_in_states, state_occupancy,
};

fn options(variance: Variance) -> CurveOptions {
    CurveOptions {
        variance,
        ..CurveOptions::default()
    }
}

fn history(case: &Value, table: &Table) -> StateHistory {
    let column = |role: &str| case["columns"][role].as_str().unwrap();
    let censored = column("censored");
    StateHistory::new(
        table.codes(column("id")),
        table.numbers(column("start")),
        table.numbers(column("stop")),
        table
            .numbers(column("from"))
            .iter()
            .map(|&state| state as u32)
            .collect(),
        table
            .text(column("to"))
            .iter()
            .map(|cell| (cell != censored).then(|| cell.parse().unwrap()))
            .collect(),
    )
    .unwrap()
}

fn reference_cases() -> Vec<Value> {
    cases("ms.json")
        .into_iter()
        .map(|mut case| {
            // the reader treats every role as a column
            case["columns"]["group"] = Value::Null;
            case
        })
        .collect()
}

#[test]
fn occupancies_and_times_in_states_agree_with_reference_values() {
    let mut n_compared = 0;
    for case in reference_cases() {
        let table = Table::of_case(&case);
        let history = history(&case, &table);
        let values = &case["values"];
        let found = state_occupancy(&history, &options(Variance::Robust)).unwrap();
        let times = numbers(&values["time"]);
        for (state, curve) in found.states.iter().enumerate() {
            let name = format!("{} state {state}", case["id"]);
            assert_close(
                &name,
                Some(found.initial[state]),
                values["initial"][state].as_f64(),
                1e-12,
            );
            for (place, time) in times.iter().enumerate() {
                let Some(point) = curve.at(time.unwrap()) else {
                    continue;
                };
                n_compared += 1;
                let name = format!("{name} at {time:?}");
                assert_close(
                    &name,
                    Some(point.estimate),
                    values["occupancy"][state][place].as_f64(),
                    1e-10,
                );
                assert_close(
                    &name,
                    point.std_error,
                    values["std_err_ij"][state][place].as_f64(),
                    1e-8,
                );
            }
        }
        for transition in &found.transitions {
            let key = format!("{}->{}", transition.from, transition.to);
            for (place, time) in times.iter().enumerate() {
                let passed = transition
                    .hazard
                    .iter()
                    .rfind(|point| point.time <= time.unwrap());
                let hazard = passed.map_or(0.0, |point| point.estimate);
                assert_close(
                    &key,
                    Some(hazard),
                    values["cumhaz"][&key][place].as_f64(),
                    1e-10,
                );
            }
            let count = &values["transitions"]["count"];
            let of = |list: &Value, state: u32| {
                list.as_array()
                    .unwrap()
                    .iter()
                    .position(|label| label.as_str() == Some(&state.to_string()))
                    .unwrap()
            };
            let from = of(&values["transitions"]["from"], transition.from);
            let to = of(&values["transitions"]["to"], transition.to);
            assert_close(
                &key,
                Some(transition.n_events),
                count[from][to].as_f64(),
                1e-12,
            );
        }
        for expected in values["restricted_mean_time"].as_array().unwrap() {
            let until = expected["tau"].as_f64().unwrap();
            let found = expected_time_in_states(&history, until, &CurveOptions::default()).unwrap();
            for (state, time) in found.iter().enumerate() {
                let name = format!("{} time in {state} to {until}", case["id"]);
                assert_close(
                    &name,
                    Some(time.estimate),
                    expected["time_in_state"][state].as_f64(),
                    1e-10,
                );
                assert_close(
                    &name,
                    Some(time.std_error),
                    expected["std_err_ij"][state].as_f64(),
                    1e-8,
                );
            }
        }
        // the transition probabilities of etm start everybody in one state: compare where all of them did
        let from = &values["transition_probability"]["from"]["0"];
        if found.initial[0] == 1.0 {
            let greenwood = state_occupancy(&history, &options(Variance::Greenwood)).unwrap();
            for (state, curve) in greenwood.states.iter().enumerate() {
                for (place, time) in times.iter().enumerate() {
                    let Some(point) = curve.at(time.unwrap()) else {
                        continue;
                    };
                    let expected = &from[state.to_string()]["std_err_greenwood"][place];
                    assert_close("greenwood", point.std_error, expected.as_f64(), 1e-8);
                }
            }
        }
    }
    assert!(n_compared >= 60, "only {n_compared} points were compared");
}

#[test]
fn a_subject_who_moves_back_is_counted_in_its_first_state_again() {
    // subject 1: state 0 to 2, state 1 to 4, state 0 on; subject 2 stays in 0
    let history = StateHistory::new(
        vec![1, 1, 1, 2],
        vec![0.0, 2.0, 4.0, 0.0],
        vec![2.0, 4.0, 9.0, 9.0],
        vec![0, 1, 0, 0],
        vec![Some(1), Some(0), None, None],
    )
    .unwrap();
    let found = state_occupancy(&history, &options(Variance::Robust)).unwrap();
    let at = |time: f64| found.states[0].at(time).unwrap().estimate;
    assert_eq!((at(1.0), at(2.0), at(4.0), at(9.0)), (1.0, 0.5, 1.0, 1.0));
    assert_eq!(found.states[0].at(3.0).unwrap().n_at_risk, 1.0);
    let times = expected_time_in_states(&history, 9.0, &CurveOptions::default()).unwrap();
    assert_eq!((times[0].estimate, times[1].estimate), (8.0, 1.0));
    // each of two subjects: time in state 1 is 2 or 0
    assert!(
        (times[1].std_error - 0.5_f64.sqrt()).abs() < 1e-14,
        "{times:?}"
    );
}

#[test]
fn histories_that_contradict_themselves_are_refused() {
    let history = |start: Vec<f64>, stop: Vec<f64>, from: Vec<u32>, to: Vec<Option<u32>>| {
        StateHistory::new(vec![1; start.len()], start, stop, from, to)
    };
    assert_eq!(
        history(vec![0.0, 2.0], vec![2.0, 4.0], vec![0, 1], vec![None, None]),
        Err(SurvivalError::StateWithoutTransition { row: 2 })
    );
    assert_eq!(
        history(
            vec![0.0, 1.0],
            vec![2.0, 4.0],
            vec![0, 1],
            vec![Some(1), None]
        ),
        Err(SurvivalError::OverlappingRows { row: 2 })
    );
    assert_eq!(
        history(vec![], vec![], vec![], vec![]),
        Err(SurvivalError::NoRows)
    );
}

#[derive(Debug, Clone)]
struct Row {
    entry: u32,
    length: u32,
    cause: u32,
    cluster: u32,
    weight: u32,
}

fn rows() -> impl Strategy<Value = Vec<Row>> {
    let row = (0_u32..5, 1_u32..10, 0_u32..4, 0_u32..8, 1_u32..4).prop_map(
        |(entry, length, cause, cluster, weight)| Row {
            entry,
            length,
            cause,
            cluster,
            weight,
        },
    );
    prop::collection::vec(row, 1..40)
}

proptest! {
    #[test]
    fn two_level_histories_are_aalen_johansen(mut rows in rows()) {
        rows[0].entry = 0;
        let start: Vec<f64> = rows.iter().map(|row| f64::from(row.entry)).collect();
        let stop: Vec<f64> = rows.iter().map(|row| f64::from(row.entry + row.length)).collect();
        let weight: Vec<f64> = rows.iter().map(|row| f64::from(row.weight) / 2.0).collect();
        let cluster: Vec<u32> = rows.iter().map(|row| row.cluster).collect();
        let sample = Sample::new(stop.clone(), rows.iter().map(|row| row.cause).collect()).unwrap()
            .with_entry(start.clone()).unwrap()
            .with_weight(weight.clone()).unwrap()
            .with_cluster(cluster.clone()).unwrap();
        let history = StateHistory::new(
            (0..rows.len() as u32).collect(), start, stop,
            vec![0; rows.len()],
            rows.iter().map(|row| (row.cause > 0).then_some(row.cause)).collect(),
        ).unwrap().with_weight(weight).unwrap().with_cluster(cluster).unwrap();
        for variance in [Variance::Robust, Variance::Greenwood] {
            let states = state_occupancy(&history, &options(variance)).unwrap();
            let incidence = aalen_johansen(&sample, &options(variance)).unwrap();
            for curve in &incidence.causes {
                let state = states.states.iter().find(|state| state.cause == curve.cause).unwrap();
                for (left, right) in curve.points.iter().zip(&state.points) {
                    prop_assert!((left.estimate - right.estimate).abs() < 1e-12);
                    let gap = left.std_error.unwrap().powi(2) - right.std_error.unwrap().powi(2);
                    prop_assert!(gap.abs() < 1e-11, "{variance:?} {left:?} {right:?}");
                }
            }
        }
    }

    #[test]
    fn states_add_up_to_1_and_times_to_the_bound(walks in prop::collection::vec(prop::collection::vec((1_u32..5, 0_u32..3), 1..5), 1..20)) {
        let (mut subject, mut start, mut stop, mut from, mut to) = (vec![], vec![], vec![], vec![], vec![]);
        for (number, walk) in walks.iter().enumerate() {
            let (mut time, mut state) = (0, number as u32 % 2);
            for &(length, target) in walk {
                subject.push(number as u32);
                start.push(f64::from(time));
                stop.push(f64::from(time + length));
                from.push(state);
                to.push(Some(target));
                (time, state) = (time + length, target);
            }
        }
        let history = StateHistory::new(subject, start, stop, from, to).unwrap();
        let found = state_occupancy(&history, &options(Variance::Robust)).unwrap();
        for position in 0..found.states[0].points.len() {
            let sum: f64 = found.states.iter().map(|curve| curve.points[position].estimate).sum();
            prop_assert!((sum - 1.0).abs() < 1e-12);
        }
        let times = expected_time_in_states(&history, 7.5, &CurveOptions::default()).unwrap();
        prop_assert!((times.iter().map(|time| time.estimate).sum::<f64>() - 7.5).abs() < 1e-12);
        // nobody is censored before the last move of all: the occupancy is a plain share, its variance binomial
        let shortest = walks.iter().map(|walk| walk.iter().map(|step| step.0).sum::<u32>()).min().unwrap();
        for curve in &found.states {
            for point in curve.points.iter().filter(|point| point.time <= f64::from(shortest)) {
                let share = point.estimate;
                let expected = share * (1.0 - share) / walks.len() as f64;
                prop_assert!((point.std_error.unwrap().powi(2) - expected).abs() < 1e-12, "{point:?} {expected}");
            }
        }
    }
}

#[test]
fn a_state_with_people_in_it_and_nobody_under_observation_is_noted() {
    // subject 1 is last seen in state 1 at 2, subject 2 comes under observation there at 5; by 8 nobody else has been seen
    let history = |second_starts: f64| {
        StateHistory::new(
            vec![1, 3, 2],
            vec![0.0, 0.0, second_starts],
            vec![2.0, 1.0, 8.0],
            vec![1, 1, 1],
            vec![None, Some(2), Some(2)],
        )
        .unwrap()
    };
    let notes = |second_starts| {
        let found = state_occupancy(&history(second_starts), &options(Variance::Robust)).unwrap();
        let of_states = found.states.iter().map(|curve| curve.notes.clone());
        of_states.collect::<Vec<Vec<CurveNote>>>()
    };
    let gap = CurveNote::NobodyAtRisk { from: 2.0, to: 8.0 };
    assert_eq!(notes(5.0), [vec![gap], Vec::new()]);
    // without a gap nothing is said
    assert_eq!(notes(2.0), [Vec::new(), Vec::new()]);
    assert_eq!(notes(1.0), [Vec::new(), Vec::new()]);
}
