//! Risk-adjusted cumulative sums: Steiner's score by hand; run lengths against a Markov chain.

use super::support::{assert_all_near, assert_near, case, numbers};
use survival::SurvivalError;
use survival::counts::{
    AfterSignal, CumulativeSumOptions, LimitSearch, RunLengthSimulation, limit_for_run_length,
    risk_adjusted_cumulative_sum, simulated_run_length,
};

const CHANCES: [f64; 8] = [0.1, 0.05, 0.2, 0.1, 0.3, 0.05, 0.15, 0.1];
const EVENTS: [bool; 8] = [false, false, true, false, true, true, false, true];

fn in_control(odds_ratio: f64, limit: f64) -> RunLengthSimulation {
    RunLengthSimulation {
        odds_ratio,
        limit,
        true_odds_ratio: 1.0,
        longest: 100_000,
        n_simulations: 1000,
        seed: 11,
    }
}

fn options(odds_ratio: f64, limit: f64, after_signal: AfterSignal) -> CumulativeSumOptions {
    CumulativeSumOptions {
        odds_ratio,
        limit,
        after_signal,
    }
}

#[test]
fn scores_of_doubled_odds() {
    for (chance, event, none) in [
        (0.05, 0.644357, -0.048790),
        (0.1, 0.597837, -0.095310),
        (0.2, 0.510826, -0.182322),
    ] {
        let steps = risk_adjusted_cumulative_sum(
            &[chance; 2],
            &[true, false],
            &options(2.0, 4.0, AfterSignal::Continue),
        )
        .unwrap();
        assert_near(steps[0].score, event, 5e-7);
        assert_near(steps[1].score, none, 5e-7);
    }
}

#[test]
fn path_of_eight_people() {
    let steps =
        risk_adjusted_cumulative_sum(&CHANCES, &EVENTS, &options(2.0, 1.9, AfterSignal::Continue))
            .unwrap();
    let sums: Vec<f64> = steps.iter().map(|step| step.sum).collect();
    assert_all_near(
        &sums,
        &[
            0.0, 0.0, 0.51083, 0.41552, 0.84630, 1.49066, 1.35089, 1.94873,
        ],
        5e-6,
    );
    let signals: Vec<usize> = steps
        .iter()
        .filter(|step| step.is_signal)
        .map(|step| step.position)
        .collect();
    assert_eq!(signals, [8]);
}

#[test]
fn restarting_sum_begins_again_after_a_signal() {
    let steps = risk_adjusted_cumulative_sum(
        &[0.1; 4],
        &[true; 4],
        &options(2.0, 1.0, AfterSignal::Restart),
    )
    .unwrap();
    let score = steps[0].score;
    let sums: Vec<f64> = steps.iter().map(|step| step.sum).collect();
    assert_all_near(&sums, &[score, 2.0 * score, score, 2.0 * score], 1e-12);
}

#[test]
fn run_length_agrees_with_a_markov_chain() {
    let reference = case("counts_scipy.json", "cumulative-sum-run-length");
    let chances = numbers(&reference["options"]["chances"]);
    for row in reference["values"].as_array().unwrap() {
        let (ratio, limit) = (
            row["odds_ratio"].as_f64().unwrap(),
            row["limit"].as_f64().unwrap(),
        );
        let simulation = RunLengthSimulation {
            n_simulations: 2000,
            ..in_control(ratio, limit)
        };
        let found = simulated_run_length(&chances, &simulation).unwrap();
        assert_near(
            found.mean,
            row["run_length"].as_f64().unwrap(),
            4.0 * found.std_error,
        );
        assert_eq!(found.n_stopped, 0);
    }
}

#[test]
fn limit_for_the_markov_run_length_is_found_again() {
    let reference = case("counts_scipy.json", "cumulative-sum-run-length");
    let chances = numbers(&reference["options"]["chances"]);
    let row = &reference["values"][0];
    let search = LimitSearch {
        odds_ratio: 2.0,
        wanted_run_length: row["run_length"].as_f64().unwrap(),
        n_simulations: 4000,
        seed: 3,
    };
    let found = limit_for_run_length(&chances, &search).unwrap();
    assert_near(found.limit, row["limit"].as_f64().unwrap(), 0.1);
    assert!(found.in_control.mean >= search.wanted_run_length);
    assert_near(
        found.in_control.mean,
        search.wanted_run_length,
        0.02 * search.wanted_run_length,
    );
    assert_eq!(found, limit_for_run_length(&chances, &search).unwrap());
}

#[test]
fn doubled_odds_shorten_the_run() {
    let length = |truth| {
        let simulation = RunLengthSimulation {
            true_odds_ratio: truth,
            ..in_control(2.0, 2.0)
        };
        simulated_run_length(&CHANCES, &simulation).unwrap().mean
    };
    assert!(length(2.0) < 0.5 * length(1.0));
}

#[test]
fn unusable_settings_are_named_errors() {
    let run = |chances: &[f64], events: &[bool], ratio, limit| {
        risk_adjusted_cumulative_sum(
            chances,
            events,
            &options(ratio, limit, AfterSignal::Continue),
        )
    };
    assert!(matches!(
        run(&[0.1], &[], 2.0, 1.0),
        Err(SurvivalError::UnequalColumns { .. })
    ));
    assert!(matches!(
        run(&[1.1], &[true], 2.0, 1.0),
        Err(SurvivalError::NotAProbability { row: 1, .. })
    ));
    for (ratio, limit) in [
        (1.0, 1.0),
        (0.0, 1.0),
        (f64::NAN, 1.0),
        (2.0, 0.0),
        (2.0, f64::NAN),
    ] {
        assert!(matches!(
            run(&[0.1], &[true], ratio, limit),
            Err(SurvivalError::SettingOutOfRange { .. })
        ));
    }
    let search = LimitSearch {
        odds_ratio: 2.0,
        wanted_run_length: 100.0,
        n_simulations: 10,
        seed: 1,
    };
    assert!(limit_for_run_length(&[0.0, 1.0], &search).is_err());
    assert!(limit_for_run_length(&[], &search).is_err());
    assert!(
        limit_for_run_length(
            &[0.1],
            &LimitSearch {
                wanted_run_length: f64::NAN,
                ..search
            }
        )
        .is_err()
    );
    assert!(
        limit_for_run_length(
            &[0.1],
            &LimitSearch {
                n_simulations: 0,
                ..search
            }
        )
        .is_err()
    );
}

#[test]
fn simulations_out_of_size_are_refused() {
    let usual = in_control(2.0, 2.0);
    for n_simulations in [0, usize::MAX] {
        let simulation = RunLengthSimulation {
            n_simulations,
            ..usual
        };
        assert!(simulated_run_length(&CHANCES, &simulation).is_err());
    }
    let stopped = simulated_run_length(
        &CHANCES,
        &RunLengthSimulation {
            longest: 3,
            limit: 50.0,
            ..usual
        },
    )
    .unwrap();
    assert_eq!((stopped.mean, stopped.n_stopped), (3.0, 1000));
}

#[test]
fn event_too_rare_to_reach_the_wanted_length_gives_limit_zero() {
    let search = LimitSearch {
        odds_ratio: 2.0,
        wanted_run_length: 5.0,
        n_simulations: 50,
        seed: 1,
    };
    let found = limit_for_run_length(&[1e-9], &search).unwrap();
    assert_eq!(found.limit, 0.0);
    assert_eq!(found.in_control.n_stopped, 50);
}
