//! Resampling of whole clusters.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;

use serde::{Deserialize, Serialize};

use crate::SurvivalError;
use crate::counts::{ConfidenceLimits, check_simulation, sample_quantile, too_few};
use crate::distribution::check_level;
use crate::random::{Stream, available_threads, repeated};

/// Settings of a bootstrap.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BootstrapOptions {
    /// Samples drawn, 1 to 10 million; 1000 or more for limits (common practice, no source).
    pub n_repetitions: usize,
    /// Seed.
    pub seed: u64,
    /// Confidence level, strictly between 0 and 1.
    pub level: f64,
    /// Threads; `None`: as many as the machine offers. Never changes a digit.
    pub n_threads: Option<NonZeroUsize>,
}

/// A statistic with its bootstrap uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BootstrapEstimate {
    /// The statistic of the rows as they are; `None` when not estimable.
    pub estimate: Option<f64>,
    /// Standard deviation over the drawn samples; `None` when fewer than two were estimable.
    pub std_error: Option<f64>,
    /// Mean over the drawn samples minus the estimate.
    pub bias: Option<f64>,
    /// Percentile limits (type 7 quantiles of the drawn samples).
    pub limits: Option<ConfidenceLimits>,
    /// Samples drawn.
    pub n_repetitions: usize,
    /// Drawn samples in which the statistic was not estimable; many of them make the limits too narrow.
    pub n_not_estimable: usize,
    /// Seed.
    pub seed: u64,
}

/// Bootstrap of one or more statistics, drawing whole clusters with replacement.
///
/// `cluster` gives each row's cluster. `statistics` receives row numbers from 0, a row as often as its cluster was drawn,
/// and gives the statistics in a fixed order. Clusters are taken in increasing order of their numbers and each repetition
/// has its own random stream, so results depend neither on the order of clusters nor on the number of threads.
///
/// # Errors
/// Fewer than two clusters, no repetition, the level out of range, or statistics whose number changes.
///
/// Source: Davison and Hinkley, Bootstrap Methods and their Application, 1997, section 3.8 (whole clusters), 5.3.1 (percentiles).
pub fn bootstrap_by_cluster(
    cluster: &[u32],
    statistics: impl Fn(&[usize]) -> Vec<Option<f64>> + Sync,
    options: &BootstrapOptions,
) -> Result<Vec<BootstrapEstimate>, SurvivalError> {
    check_level(options.level)?;
    let mut rows_by_cluster: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (row, number) in cluster.iter().enumerate() {
        rows_by_cluster.entry(*number).or_default().push(row);
    }
    let clusters: Vec<Vec<usize>> = rows_by_cluster.into_values().collect();
    if clusters.len() < 2 {
        return Err(too_few(clusters.len(), 2));
    }
    check_simulation("number of repetitions", options.n_repetitions)?;
    let all_rows: Vec<usize> = (0..cluster.len()).collect();
    let estimates = statistics(&all_rows);
    let n_threads = options.n_threads.unwrap_or_else(available_threads);
    let drawn = repeated(options.n_repetitions, n_threads, |repetition| {
        let mut stream = Stream::new(options.seed, repetition);
        let rows: Vec<usize> = clusters
            .iter()
            .filter_map(|_| clusters.get(stream.index(clusters.len())))
            .flatten()
            .copied()
            .collect();
        statistics(&rows)
    });
    if drawn.iter().any(|values| values.len() != estimates.len()) {
        let rule = "must give the same number of statistics for every sample";
        return Err(SurvivalError::SettingOutOfRange {
            setting: "statistics",
            rule,
        });
    }
    let summary = |(place, estimate): (usize, &Option<f64>)| {
        let values: Vec<f64> = drawn
            .iter()
            .filter_map(|values| values.get(place).copied().flatten())
            .collect();
        summarised(*estimate, &values, options)
    };
    Ok(estimates.iter().enumerate().map(summary).collect())
}

fn summarised(
    estimate: Option<f64>,
    values: &[f64],
    options: &BootstrapOptions,
) -> BootstrapEstimate {
    let n = values.len() as f64;
    let is_enough = values.len() >= 2;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let tail = (1.0 - options.level) / 2.0;
    let limits = sample_quantile(values, tail).zip(sample_quantile(values, 1.0 - tail));
    BootstrapEstimate {
        estimate,
        std_error: is_enough.then(|| (squares / (n - 1.0)).sqrt()),
        bias: estimate
            .filter(|_| is_enough)
            .map(|estimate| mean - estimate),
        limits: limits
            .filter(|_| is_enough)
            .map(|(lower, upper)| ConfidenceLimits { lower, upper }),
        n_repetitions: options.n_repetitions,
        n_not_estimable: options.n_repetitions - values.len(),
        seed: options.seed,
    }
}
