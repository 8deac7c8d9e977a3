//! Curves and tests on 10 thousand to a million rows: whole days, decimal times, delayed entry, clusters.
//!
//! A variance by cluster may cost three times the plain curve; everything grows like the sort.

use divan::{Bencher, black_box};
use survival::{
    CurveOptions, EventHistory, GrayOptions, LogRankOptions, LogRankVariance, Sample, StateHistory,
    Variance, aalen_johansen, bootstrap_quantile, gray_test, kaplan_meier, log_rank,
    mean_cumulative_count, nelson_aalen, restricted_means, state_occupancy,
};

use survival::weighting::BootstrapOptions;

const SIZES: [usize; 3] = [10_000, 100_000, 1_000_000];

fn main() {
    divan::main();
}

/// Evenly spread numbers in [0, 1), the same at every run (fractions of multiples of the golden ratio).
fn spread(row: usize, turn: f64) -> f64 {
    ((row as f64 + 1.0) * turn).fract()
}

fn sample(n: usize, is_whole: bool) -> Sample {
    let time = |row: usize| {
        let time = -1000.0 * (1.0 - spread(row, 0.618_033_988_749_894_9)).ln();
        if is_whole {
            time.min(3650.0).floor()
        } else {
            time
        }
    };
    let cause = |row: usize| (3.0 * spread(row, 0.754_877_666_246_692_7)) as u32;
    let built = Sample::new((0..n).map(time).collect(), (0..n).map(cause).collect());
    built.unwrap_or_else(|error| panic!("{error}"))
}

fn clustered(n: usize, is_whole: bool) -> Sample {
    sample(n, is_whole)
        .with_cluster((0..n as u32).map(|row| row / 3).collect())
        .unwrap_or_else(|error| panic!("{error}"))
}

fn late(n: usize) -> Sample {
    let sample = sample(n, true);
    let entry = sample
        .exit()
        .iter()
        .map(|exit| (exit / 3.0).floor())
        .collect();
    sample
        .with_entry(entry)
        .unwrap_or_else(|error| panic!("{error}"))
}

fn robust() -> CurveOptions {
    CurveOptions {
        variance: Variance::Robust,
        ..CurveOptions::default()
    }
}

#[divan::bench(args = SIZES)]
fn kaplan_meier_in_days(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    bencher.bench(|| kaplan_meier(black_box(&sample), &CurveOptions::default()));
}

#[divan::bench(args = SIZES)]
fn kaplan_meier_in_days_by_cluster(bencher: Bencher<'_, '_>, n: usize) {
    let sample = clustered(n, true);
    bencher.bench(|| kaplan_meier(black_box(&sample), &robust()));
}

#[divan::bench(args = SIZES)]
fn kaplan_meier_in_days_with_delayed_entry(bencher: Bencher<'_, '_>, n: usize) {
    let sample = late(n);
    bencher.bench(|| kaplan_meier(black_box(&sample), &CurveOptions::default()));
}

#[divan::bench(args = SIZES)]
fn kaplan_meier_in_decimals(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, false);
    bencher.bench(|| kaplan_meier(black_box(&sample), &CurveOptions::default()));
}

#[divan::bench(args = SIZES)]
fn kaplan_meier_in_decimals_by_cluster(bencher: Bencher<'_, '_>, n: usize) {
    let sample = clustered(n, false);
    bencher.bench(|| kaplan_meier(black_box(&sample), &robust()));
}

#[divan::bench(args = SIZES)]
fn incidence_in_days(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    bencher.bench(|| aalen_johansen(black_box(&sample), &CurveOptions::default()));
}

#[divan::bench(args = SIZES)]
fn incidence_in_days_by_cluster(bencher: Bencher<'_, '_>, n: usize) {
    let sample = clustered(n, true);
    bencher.bench(|| aalen_johansen(black_box(&sample), &robust()));
}

#[divan::bench(args = [10_000_000])]
fn kaplan_meier_of_ten_million(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    bencher.bench(|| kaplan_meier(black_box(&sample), &CurveOptions::default()));
}

#[divan::bench(args = [10_000_000])]
fn incidence_of_ten_million(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    bencher.bench(|| aalen_johansen(black_box(&sample), &CurveOptions::default()));
}

#[divan::bench(args = SIZES)]
fn nelson_aalen_in_days(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    bencher.bench(|| nelson_aalen(black_box(&sample), &CurveOptions::default()));
}

#[divan::bench(args = SIZES)]
fn restricted_means_by_cluster(bencher: Bencher<'_, '_>, n: usize) {
    let sample = clustered(n, true);
    let group: Vec<u32> = (0..n as u32).map(|row| row % 2).collect();
    bencher.bench(|| restricted_means(black_box(&sample), &group, 365.0, &robust()));
}

/// Two hundred draws of the median.
#[divan::bench(args = SIZES)]
fn bootstrap_of_a_quantile(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    let options = BootstrapOptions {
        n_repetitions: 200,
        seed: 1,
        level: 0.95,
        n_threads: None,
    };
    bencher.bench(|| bootstrap_quantile(black_box(&sample), 0.5, &options));
}

/// Three rows a subject.
#[divan::bench(args = SIZES)]
fn mean_count_with_terminal_events(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    let rows = |of: fn(f64, f64) -> f64| -> Vec<f64> {
        let exits = sample.exit().iter();
        exits
            .flat_map(|exit| [0.0, 1.0, 2.0].map(|part| of(3.0 * (exit + 1.0), part)))
            .collect()
    };
    let subject = (0..n as u32).flat_map(|subject| [subject; 3]).collect();
    let cause = sample.cause().iter().flat_map(|&cause| [1, 1, cause]);
    let history = EventHistory::new(
        subject,
        rows(|end, part| end * part / 3.0),
        rows(|end, part| end * (part + 1.0) / 3.0),
        cause.collect(),
        &[2],
    );
    let history = history.unwrap_or_else(|error| panic!("{error}"));
    bencher.bench(|| mean_cumulative_count(black_box(&history), &robust()));
}

#[divan::bench(args = SIZES)]
fn log_rank_by_cluster(bencher: Bencher<'_, '_>, n: usize) {
    let sample = clustered(n, true);
    let group: Vec<u32> = (0..n as u32).map(|row| row % 2).collect();
    let options = LogRankOptions {
        variance: LogRankVariance::Robust,
        ..LogRankOptions::default()
    };
    bencher.bench(|| log_rank(black_box(&sample), &group, None, &options));
}

#[divan::bench(args = SIZES)]
fn log_rank_of_four_groups(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    let group: Vec<u32> = (0..n as u32).map(|row| row % 4).collect();
    bencher.bench(|| log_rank(black_box(&sample), &group, None, &LogRankOptions::default()));
}

#[divan::bench(args = SIZES)]
fn grays_test_of_two_groups(bencher: Bencher<'_, '_>, n: usize) {
    let sample = sample(n, true);
    let group: Vec<u32> = (0..n as u32).map(|row| row % 2).collect();
    bencher.bench(|| gray_test(black_box(&sample), 1, &group, None, &GrayOptions::default()));
}

#[divan::bench(args = SIZES)]
fn occupancy_with_the_jackknife(bencher: Bencher<'_, '_>, n: usize) {
    // each subject is in state 0, then 1, then back or gone
    let sample = sample(n, true);
    let middle: Vec<f64> = sample
        .exit()
        .iter()
        .map(|exit| (exit / 2.0).floor() + 1.0)
        .collect();
    let subject = (0..n as u32).chain(0..n as u32).collect();
    let start = [vec![0.0; n], middle.clone()].concat();
    let stop = middle.iter().copied().chain(
        middle
            .iter()
            .zip(sample.exit())
            .map(|(middle, exit)| middle + exit + 1.0),
    );
    let from = (0..2 * n).map(|row| u32::from(row >= n)).collect();
    let to = (0..2 * n).map(|row| {
        if row < n {
            Some(1)
        } else {
            [None, Some(0), Some(2)].get(row % 3).copied().flatten()
        }
    });
    let history = StateHistory::new(subject, start, stop.collect(), from, to.collect());
    let history = history.unwrap_or_else(|error| panic!("{error}"));
    bencher.bench(|| state_occupancy(black_box(&history), &robust()));
}
