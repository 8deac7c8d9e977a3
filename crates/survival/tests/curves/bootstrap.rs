//! Quantiles of drawn samples.

use std::num::NonZeroUsize;
use survival::weighting::{BootstrapOptions, bootstrap_by_cluster};
use survival::{CurveOptions, Sample, bootstrap_quantile, kaplan_meier};

fn options(n_repetitions: usize) -> BootstrapOptions {
    BootstrapOptions {
        n_repetitions,
        seed: 11,
        level: 0.95,
        n_threads: None,
    }
}

/// Clusters of two or three of 90 rows.
fn cluster() -> Vec<u32> {
    (0..90).map(|row| row * 2 / 5).collect()
}

/// Some of 90 rows with ties, censorings, entries and weights.
fn sample_of(rows: &[usize], has_cluster: bool) -> Sample {
    let column = |of: fn(u32) -> f64| rows.iter().map(|&row| of(row as u32)).collect::<Vec<f64>>();
    let causes = rows.iter().map(|&row| (row as u32 * 13 % 5).min(2));
    let sample = Sample::new(column(|row| f64::from(row * 37 % 31 + 3)), causes.collect())
        .and_then(|sample| sample.with_entry(column(|row| f64::from(row * 7 % 3))))
        .and_then(|sample| sample.with_weight(column(|row| f64::from(row % 4 + 1) / 2.0)))
        .unwrap();
    if has_cluster {
        let cluster = cluster();
        let own = rows.iter().map(|&row| cluster[row]).collect();
        return sample.with_cluster(own).unwrap();
    }
    sample
}

#[test]
fn drawn_quantiles_are_those_of_curves_of_the_drawn_rows() {
    let all: Vec<usize> = (0..90).collect();
    let cluster = cluster();
    let by_curves = |rows: &[usize]| {
        let curve = kaplan_meier(&sample_of(rows, false), &CurveOptions::default()).unwrap();
        vec![curve.quantile(0.4).estimate]
    };
    let expected = bootstrap_by_cluster(&cluster, by_curves, &options(300)).unwrap()[0];
    let found = bootstrap_quantile(&sample_of(&all, true), 0.4, &options(300)).unwrap();
    assert_eq!(found.estimate, expected.estimate);
    assert_eq!(found.lower, expected.limits.map(|limits| limits.lower));
    assert_eq!(found.upper, expected.limits.map(|limits| limits.upper));
    let (found, expected) = (found.std_error.unwrap(), expected.std_error.unwrap());
    assert!((found - expected).abs() < 1e-12);
}

#[test]
fn neither_the_order_of_rows_nor_the_number_of_threads_changes_a_digit() {
    let all: Vec<usize> = (0..90).collect();
    let turned: Vec<usize> = (0..90).rev().collect();
    for has_cluster in [false, true] {
        let with = |rows: &[usize], n_threads| {
            let options = BootstrapOptions {
                n_threads: NonZeroUsize::new(n_threads),
                ..options(100)
            };
            bootstrap_quantile(&sample_of(rows, has_cluster), 0.5, &options).unwrap()
        };
        assert_eq!(with(&all, 1), with(&turned, 1));
        assert_eq!(with(&all, 1), with(&all, 3));
    }
}

/// The median of n values without censoring, n odd: the drawn median is the k-th value with the binomial probability that at
/// least half of the draws lie at or below it (Efron 1979, Ann Stat 7:1, section 3).
#[test]
fn the_median_of_a_few_values_has_the_exact_law() {
    let values = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];
    let sample = Sample::new(values.to_vec(), vec![1; 7]).unwrap();
    let choose = [1.0, 7.0, 21.0, 35.0, 35.0, 21.0, 7.0, 1.0];
    let at_least_four_up_to = |place: usize| -> f64 {
        let share = place as f64 / 7.0;
        (4..=7)
            .map(|n| choose[n] * share.powi(n as i32) * (1.0 - share).powi(7 - n as i32))
            .sum()
    };
    let law: Vec<f64> = (1..=7)
        .map(|place| at_least_four_up_to(place) - at_least_four_up_to(place - 1))
        .collect();
    let mean: f64 = law.iter().zip(values).map(|(p, value)| p * value).sum();
    let variance: f64 = law
        .iter()
        .zip(values)
        .map(|(p, value)| p * (value - mean).powi(2))
        .sum();
    let found = bootstrap_quantile(&sample, 0.5, &options(20_000)).unwrap();
    assert_eq!(found.estimate, Some(4.0));
    assert!((found.std_error.unwrap() / variance.sqrt() - 1.0).abs() < 0.03);
}

#[test]
fn what_is_not_reached_is_not_a_number() {
    // two events among ten: few drawn samples have half of their rows with an event
    let cause = [1, 1, 0, 0, 0, 0, 0, 0, 0, 0].to_vec();
    let sample = Sample::new((1..=10).map(f64::from).collect(), cause).unwrap();
    let found = bootstrap_quantile(&sample, 0.5, &options(200)).unwrap();
    assert_eq!(
        (found.estimate, found.std_error, found.upper),
        (None, None, None)
    );
    assert!(found.n_not_reached > 150);
    let alone = Sample::new(vec![1.0], vec![1]).unwrap();
    assert!(bootstrap_quantile(&alone, 0.5, &options(10)).is_err());
    for probability in [0.0, 1.0, f64::NAN] {
        assert!(bootstrap_quantile(&sample, probability, &options(10)).is_err());
    }
    assert!(bootstrap_quantile(&sample, 0.5, &options(0)).is_err());
}
