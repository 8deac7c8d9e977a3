//! Bootstrap by cluster: closed forms and determinism.

use super::support::assert_near;
use std::num::NonZeroUsize;
use survival::SurvivalError;
use survival::weighting::{BootstrapOptions, bootstrap_by_cluster};

const VALUES: [f64; 12] = [3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0, 5.0, 3.0, 5.0, 8.0];

fn options(n_repetitions: usize) -> BootstrapOptions {
    BootstrapOptions {
        n_repetitions,
        seed: 42,
        level: 0.95,
        n_threads: None,
    }
}

fn mean(rows: &[usize]) -> Vec<Option<f64>> {
    vec![
        (!rows.is_empty())
            .then(|| rows.iter().map(|row| VALUES[*row]).sum::<f64>() / rows.len() as f64),
    ]
}

#[test]
fn error_of_a_mean_is_the_closed_form() {
    // Drawing n of n with replacement: variance of the mean is sum (x - mean)^2 / n^2.
    let cluster: Vec<u32> = (0..12).collect();
    let found = bootstrap_by_cluster(&cluster, mean, &options(8000)).unwrap()[0];
    let centre = VALUES.iter().sum::<f64>() / 12.0;
    let exact = (VALUES
        .iter()
        .map(|value| (value - centre).powi(2))
        .sum::<f64>()
        / 144.0)
        .sqrt();
    assert_near(found.estimate.unwrap(), centre, 1e-12);
    assert_near(found.std_error.unwrap(), exact, 0.03 * exact);
    assert_near(found.bias.unwrap(), 0.0, 0.05 * exact);
    let limits = found.limits.unwrap();
    assert_near(limits.lower, centre - 1.96 * exact, 0.15 * exact);
    assert_near(limits.upper, centre + 1.96 * exact, 0.15 * exact);
}

#[test]
fn rows_of_one_cluster_are_drawn_together() {
    // Pairs of equal rows: each cluster of two comes whole, so the error is that of six means.
    let values = [1.0, 1.0, 4.0, 4.0, 2.0, 2.0, 8.0, 8.0, 5.0, 5.0, 7.0, 7.0];
    let cluster: Vec<u32> = (0..12).map(|row| row / 2).collect();
    let statistic = |rows: &[usize]| {
        assert!(
            rows.chunks(2)
                .all(|pair| pair[0] / 2 == pair[1] / 2 && pair[0] != pair[1])
        );
        vec![Some(
            rows.iter().map(|row| values[*row]).sum::<f64>() / rows.len() as f64,
        )]
    };
    let found = bootstrap_by_cluster(&cluster, statistic, &options(6000)).unwrap()[0];
    let squares: f64 = [1.0, 4.0, 2.0, 8.0, 5.0, 7.0]
        .iter()
        .map(|value: &f64| (value - 4.5).powi(2))
        .sum();
    assert_near(
        found.std_error.unwrap(),
        (squares / 36.0).sqrt(),
        0.03 * (squares / 36.0).sqrt(),
    );
}

#[test]
fn threads_do_not_change_a_digit() {
    let cluster: Vec<u32> = (0..12).map(|row| row % 5).collect();
    let with = |n_threads| {
        let options = BootstrapOptions {
            n_threads: NonZeroUsize::new(n_threads),
            ..options(301)
        };
        bootstrap_by_cluster(&cluster, mean, &options).unwrap()
    };
    assert_eq!(with(1), with(2));
    assert_eq!(with(1), with(7));
    assert_eq!(with(1), with(0));
    let other_seed = BootstrapOptions {
        seed: 43,
        ..options(301)
    };
    assert_ne!(
        bootstrap_by_cluster(&cluster, mean, &other_seed).unwrap(),
        with(1)
    );
}

#[test]
fn samples_without_an_estimate_are_counted() {
    let cluster: Vec<u32> = (0..12).collect();
    let only_with_first =
        |rows: &[usize]| vec![rows.contains(&0).then_some(rows.len() as f64), None];
    let found = bootstrap_by_cluster(&cluster, only_with_first, &options(2000)).unwrap();
    // Row 0 is missing in (11/12)^12 = 0.352 of the samples.
    assert_near(found[0].n_not_estimable as f64 / 2000.0, 0.352, 0.04);
    assert_eq!(
        (found[1].estimate, found[1].std_error, found[1].limits),
        (None, None, None)
    );
    assert_eq!(found[1].n_not_estimable, 2000);
}

#[test]
fn too_few_clusters_or_repetitions_are_refused() {
    assert!(matches!(
        bootstrap_by_cluster(&[1; 12], mean, &options(10)),
        Err(SurvivalError::TooFewValues { .. })
    ));
    assert!(bootstrap_by_cluster(&[], mean, &options(10)).is_err());
    assert!(bootstrap_by_cluster(&[1, 2], mean, &options(0)).is_err());
    let level = BootstrapOptions {
        level: 1.0,
        ..options(10)
    };
    assert_eq!(
        bootstrap_by_cluster(&[1, 2], mean, &level),
        Err(SurvivalError::LevelOutOfRange)
    );
    let unsteady = |rows: &[usize]| vec![Some(1.0); rows[0] + 1];
    assert!(bootstrap_by_cluster(&[0, 1, 2], unsteady, &options(50)).is_err());
}
