//! The order of the rows, which says nothing, changes no digit.
//!
//! Numbers that belong to a row (residuals, fitted chances) follow it and are not compared here.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use serde::Serialize;
use survival::interval::{IntervalRegressionOptions, IntervalSample, interval_regression, npmle};
use survival::regression::concordance::{TimeWeight, concordance};
use survival::regression::cox::{CoxOptions, Ties, TimeTransform, cox};
use survival::regression::fine_gray::{FineGrayOptions, fine_gray};
use survival::regression::{
    BinaryOutcomes, Covariate, Covariates, LogisticOptions, Penalty, logistic,
};
use survival::{
    CurveOptions, EventHistory, GrayOptions, LogRankOptions, LogRankVariance, Sample, StateHistory,
    Variance, aalen_johansen, expected_time_in_states, gray_test, kaplan_meier, log_rank,
    mean_cumulative_count, nelson_aalen, restricted_means, state_occupancy,
};

/// A row of every kind of table. Numbers are decimals that no sum holds exactly.
#[derive(Clone)]
struct Row {
    subject: u32,
    entry: f64,
    exit: f64,
    cause: u32,
    group: u32,
    stratum: u32,
    cluster: u32,
    weight: f64,
    x: [f64; 2],
    /// The same follow-up in two parts.
    middle: f64,
}

const N_ROWS: u32 = 240;

fn rows(draw: &mut ChaCha8Rng) -> Vec<Row> {
    let mut below = |n: u32| draw.next_u32() % n;
    let rows = (0..N_ROWS).map(|subject| {
        let entry = f64::from(below(4) * below(4));
        let more = f64::from(2 + below(25));
        Row {
            subject,
            entry,
            exit: entry + more,
            cause: below(3),
            group: below(3),
            stratum: below(2),
            cluster: below(60),
            weight: f64::from(1 + below(9)) / 7.0,
            x: [f64::from(below(1000)) / 301.0, f64::from(below(2))],
            middle: entry + (more / 2.0).floor(),
        }
    });
    rows.collect()
}

fn shuffled(rows: &[Row], draw: &mut ChaCha8Rng) -> Vec<Row> {
    let mut rows = rows.to_vec();
    for last in (1..rows.len()).rev() {
        rows.swap(last, draw.next_u32() as usize % (last + 1));
    }
    rows
}

fn column<T>(rows: &[Row], of: impl Fn(&Row) -> T) -> Vec<T> {
    rows.iter().map(of).collect()
}

/// With entries, weights and clusters as asked.
fn sample(rows: &[Row], [late, weighted, clustered]: [bool; 3]) -> Sample {
    let exit = column(
        rows,
        |row| if late { row.exit } else { row.exit - row.entry },
    );
    let mut sample = Sample::new(exit, column(rows, |row| row.cause)).unwrap();
    if late {
        sample = sample.with_entry(column(rows, |row| row.entry)).unwrap();
    }
    if weighted {
        sample = sample.with_weight(column(rows, |row| row.weight)).unwrap();
    }
    if clustered {
        sample = sample
            .with_cluster(column(rows, |row| row.cluster))
            .unwrap();
    }
    sample
}

fn covariates(rows: &[Row]) -> Covariates {
    let of = |place: usize| Covariate {
        name: format!("x{place}"),
        values: column(rows, |row| row.x[place]),
    };
    Covariates::new(rows.len(), vec![of(0), of(1)]).unwrap()
}

/// All digits of an answer.
fn digits(answer: &impl Serialize) -> String {
    serde_json::to_string(answer).unwrap()
}

type Answers = Vec<(&'static str, String)>;

fn curves(rows: &[Row], with: [bool; 3]) -> Answers {
    let sample = sample(rows, with);
    let group = column(rows, |row| row.group);
    let stratum = column(rows, |row| row.stratum);
    let robust = CurveOptions {
        variance: Variance::Robust,
        ..CurveOptions::default()
    };
    let robust_test = LogRankOptions {
        variance: LogRankVariance::Robust,
        ..LogRankOptions::default()
    };
    let gray = GrayOptions::default();
    vec![
        (
            "Kaplan-Meier",
            digits(&kaplan_meier(&sample, &robust).unwrap()),
        ),
        (
            "Nelson-Aalen",
            digits(&nelson_aalen(&sample, &robust).unwrap()),
        ),
        (
            "incidence",
            digits(&aalen_johansen(&sample, &robust).unwrap()),
        ),
        (
            "restricted mean",
            digits(&restricted_means(&sample, &group, 20.0, &robust).unwrap()),
        ),
        (
            "log-rank",
            digits(&log_rank(&sample, &group, Some(&stratum), &LogRankOptions::default()).unwrap()),
        ),
        (
            "robust log-rank",
            digits(&log_rank(&sample, &group, Some(&stratum), &robust_test).unwrap()),
        ),
        (
            "Gray",
            gray_test(&sample, 1, &group, Some(&stratum), &gray)
                .map_or_else(|error| error.to_string(), |test| digits(&test)),
        ),
        (
            "concordance",
            digits(
                &concordance(
                    &sample.clone().only_cause(1),
                    &column(rows, |row| row.x[0]),
                    Some(&stratum),
                    TimeWeight::AtRisk,
                )
                .unwrap(),
            ),
        ),
    ]
}

fn models(rows: &[Row], with: [bool; 3]) -> Answers {
    let (sample, covariates) = (sample(rows, with), covariates(rows));
    let stratum = column(rows, |row| row.stratum);
    let mut answers = Vec::new();
    for ties in [Ties::Efron, Ties::Breslow] {
        let options = CoxOptions {
            ties,
            cause: Some(1),
            ..CoxOptions::default()
        };
        let fit = cox(&sample, &covariates, Some(&stratum), &options).unwrap();
        answers.push(("Cox", digits(&fit)));
        answers.push(("baseline", digits(&fit.baseline().unwrap())));
        answers.push((
            "proportional hazards",
            digits(
                &fit.proportionality_test(TimeTransform::KaplanMeier)
                    .unwrap(),
            ),
        ));
        answers.push((
            "concordance of a model",
            digits(&fit.concordance(TimeWeight::AtRisk)),
        ));
        answers.push(("curve", digits(&fit.curve(&[1.0, 0.0], 0, &[]).unwrap())));
        answers.push((
            "adjusted curve",
            digits(&fit.adjusted_curve(&covariates, 0, &[]).unwrap()),
        ));
    }
    if let Ok(fit) = fine_gray(
        &sample,
        &covariates,
        Some(&stratum),
        &FineGrayOptions::default(),
    ) {
        answers.push(("Fine-Gray", digits(&fit)));
        answers.push(("Fine-Gray baseline", digits(&fit.baseline().unwrap())));
    }
    let outcomes = || {
        let mut outcomes = BinaryOutcomes::new(column(rows, |row| row.cause == 1)).unwrap();
        if with[1] {
            outcomes = outcomes
                .with_weight(column(rows, |row| row.weight))
                .unwrap();
        }
        if with[2] {
            outcomes = outcomes
                .with_cluster(column(rows, |row| row.cluster))
                .unwrap();
        }
        outcomes
    };
    for penalty in [Penalty::None, Penalty::Firth] {
        let options = LogisticOptions {
            penalty,
            ..LogisticOptions::default()
        };
        let fit = logistic(&outcomes(), &covariates, &options).unwrap();
        answers.push(("logistic", digits(&(&fit.terms, fit.log_likelihood))));
    }
    answers
}

fn intervals(rows: &[Row], [_, weighted, clustered]: [bool; 3]) -> Answers {
    let upper = column(rows, |row| {
        if row.cause == 0 {
            f64::INFINITY
        } else {
            row.exit
        }
    });
    let mut sample = IntervalSample::new(column(rows, |row| row.entry), upper).unwrap();
    if weighted {
        sample = sample.with_weight(column(rows, |row| row.weight)).unwrap();
    }
    let found = npmle(&sample).unwrap();
    if clustered {
        sample = sample
            .with_cluster(column(rows, |row| row.cluster))
            .unwrap();
    }
    let options = IntervalRegressionOptions::default();
    vec![
        ("npmle", digits(&found)),
        (
            "interval regression",
            digits(&interval_regression(&sample, &covariates(rows), &options).unwrap()),
        ),
    ]
}

/// Every row in two parts, those of all subjects in the order of the rows.
fn histories(rows: &[Row], [_, weighted, clustered]: [bool; 3]) -> Answers {
    let twice = |of: fn(&Row) -> [f64; 2]| rows.iter().flat_map(of).collect::<Vec<f64>>();
    let subject: Vec<u32> = rows.iter().flat_map(|row| [row.subject; 2]).collect();
    let start = twice(|row| [row.entry, row.middle]);
    let stop = twice(|row| [row.middle, row.exit]);
    let weight = twice(|row| [row.weight; 2]);
    let cluster: Vec<u32> = rows.iter().flat_map(|row| [row.cluster; 2]).collect();
    let cause = rows
        .iter()
        .flat_map(|row| [row.group % 2, row.cause])
        .collect();
    let mut events =
        EventHistory::new(subject.clone(), start.clone(), stop.clone(), cause, &[2]).unwrap();
    let from = rows.iter().flat_map(|row| [0, row.group % 2]).collect();
    let to = rows.iter().flat_map(|row| {
        let end = 2 * u32::from(row.cause == 2) + (1 - row.group % 2) * u32::from(row.cause == 1);
        [
            (row.group % 2 == 1).then_some(1),
            (row.cause > 0).then_some(end),
        ]
    });
    let mut states = StateHistory::new(subject, start, stop, from, to.collect()).unwrap();
    if weighted {
        events = events.with_weight(weight.clone()).unwrap();
        states = states.with_weight(weight).unwrap();
    }
    if clustered {
        events = events.with_cluster(cluster.clone()).unwrap();
        states = states.with_cluster(cluster).unwrap();
    }
    let robust = CurveOptions {
        variance: Variance::Robust,
        ..CurveOptions::default()
    };
    vec![
        (
            "mean count",
            digits(&mean_cumulative_count(&events, &robust).unwrap()),
        ),
        (
            "occupancy",
            digits(&state_occupancy(&states, &robust).unwrap()),
        ),
        (
            "time in states",
            digits(&expected_time_in_states(&states, 20.0, &robust).unwrap()),
        ),
    ]
}

#[test]
fn the_order_of_the_rows_changes_no_digit() {
    let mut draw = ChaCha8Rng::seed_from_u64(20);
    let rows = rows(&mut draw);
    let mut changed = Vec::new();
    for with in (0..8).map(|bits| [bits & 1 > 0, bits & 2 > 0, bits & 4 > 0]) {
        for answers in [curves, models, intervals, histories] {
            let usual = answers(&rows, with);
            for _ in 0..3 {
                let others = answers(&shuffled(&rows, &mut draw), with);
                for ((name, one), (_, other)) in usual.iter().zip(&others) {
                    if one != other && !changed.contains(&(*name, with)) {
                        changed.push((*name, with));
                    }
                }
            }
        }
    }
    assert!(
        changed.is_empty(),
        "(late, weighted, clustered): {changed:#?}"
    );
}
