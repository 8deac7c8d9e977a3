//! How often nominal 95% limits hold the truth, over sample sizes and shares of censoring. Prints the tables of COVERAGE.md.
//!
//! `cargo run --release -p survival --example coverage`. Curves are simulated, every repetition from a stream of its own, so
//! the output is the same at every run; limits of counts need no simulation, their coverage is summed over all counts.
#![allow(clippy::print_stdout, reason = "an example prints")]

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use survival::counts::{ProportionLimits, proportion};
use survival::{
    ConfidenceLimits, Curve, CurveOptions, Limits, Sample, SurvivalError, Variance, aalen_johansen,
    kaplan_meier, poisson_exact,
};

const LEVEL: f64 = 0.95;
const SEED: u64 = 20_260_101;
const N_REPETITIONS: u64 = 20_000;
const CLUSTER_SIZE: usize = 4;

fn main() -> Result<(), SurvivalError> {
    println!("Kaplan-Meier at the time where half, and where a quarter, are without the event");
    println!(
        "| n | censored | at | log-log | linear | no log-log limits |\n|--:|--:|--:|--:|--:|--:|"
    );
    for n in [20, 50, 200] {
        for censored in [0.0, 0.3, 0.6] {
            for share in [0.5, 0.25] {
                event_free_row(n, censored, share)?;
            }
        }
    }
    println!(
        "\nMedian, limits from the log-log band; a limit that the band does not reach is open"
    );
    println!("| n | censored | coverage | upper limit open |\n|--:|--:|--:|--:|");
    for n in [20, 50, 200] {
        for censored in [0.0, 0.3, 0.6] {
            median_row(n, censored)?;
        }
    }
    println!(
        "\nAalen-Johansen of one of two causes, {CLUSTER_SIZE} rows a cluster with a shared hazard, log-log limits"
    );
    println!(
        "| clusters | censored | incidence | by cluster | rows as if independent | no limits |\n|--:|--:|--:|--:|--:|--:|"
    );
    for n_clusters in [10, 30, 100] {
        for censored in [0.0, 0.3, 0.6] {
            incidence_row(n_clusters, censored)?;
        }
    }
    println!("\nProportion");
    println!("| n | true share | Wilson | exact |\n|--:|--:|--:|--:|");
    for n in [10, 30, 100, 1000] {
        for share in [0.02, 0.1, 0.5] {
            proportion_row(n, share);
        }
    }
    println!("\nPoisson count, exact limits");
    println!("| true mean | coverage |\n|--:|--:|");
    for mean in [0.5, 2.0, 5.0, 10.0, 50.0] {
        let chance = poisson_chances(mean);
        let coverage = covered(&chance, mean, |count| poisson_exact(count, LEVEL));
        println!("| {mean} | {coverage:.3} |");
    }
    Ok(())
}

/// Random numbers of one repetition.
struct Draws(ChaCha8Rng);

impl Draws {
    fn new(repetition: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(SEED);
        generator.set_stream(repetition);
        Self(generator)
    }

    /// A waiting time at a rate; infinite at rate 0.
    fn waiting(&mut self, rate: f64) -> f64 {
        let uniform = ((self.0.next_u64() >> 12) as f64 + 0.5) / (1_u64 << 52) as f64;
        -uniform.ln() / rate
    }
}

/// How often limits were there, and how often they held the truth.
#[derive(Default)]
struct Tally {
    n_given: u64,
    n_holding: u64,
    n_open: u64,
}

impl Tally {
    fn add(&mut self, limits: Option<ConfidenceLimits>, truth: f64) {
        if let Some(limits) = limits {
            self.n_given += 1;
            self.n_holding += u64::from(limits.lower <= truth && truth <= limits.upper);
            self.n_open += u64::from(limits.upper == f64::INFINITY);
        }
    }

    fn coverage(&self) -> f64 {
        self.n_holding as f64 / self.n_given as f64
    }

    fn without(&self) -> f64 {
        1.0 - self.n_given as f64 / N_REPETITIONS as f64
    }
}

fn options(limits: Limits, variance: Variance) -> CurveOptions {
    CurveOptions {
        level: LEVEL,
        limits,
        variance,
    }
}

fn limits_at(curve: &Curve, time: f64) -> Option<ConfidenceLimits> {
    let point = curve.at(time)?;
    let (lower, upper) = point.lower.zip(point.upper)?;
    Some(ConfidenceLimits { lower, upper })
}

/// Events at rate 1, censorings at the rate that ends the asked share of the rows first.
fn exponential_sample(n: usize, censored: f64, repetition: u64) -> Result<Sample, SurvivalError> {
    let mut draws = Draws::new(repetition);
    let rate = censored / (1.0 - censored);
    let rows = (0..n).map(|_| {
        let (event, end) = (draws.waiting(1.0), draws.waiting(rate));
        (event.min(end), u32::from(event <= end))
    });
    let (exit, cause) = rows.unzip();
    Sample::new(exit, cause)
}

fn event_free_row(n: usize, censored: f64, share: f64) -> Result<(), SurvivalError> {
    let time = -share.ln();
    let [mut log_log, mut linear] = [Tally::default(), Tally::default()];
    for repetition in 0..N_REPETITIONS {
        let sample = exponential_sample(n, censored, repetition)?;
        for (tally, limits) in [
            (&mut log_log, Limits::LogLog),
            (&mut linear, Limits::Linear),
        ] {
            let curve = kaplan_meier(&sample, &options(limits, Variance::Greenwood))?;
            tally.add(limits_at(&curve, time), share);
        }
    }
    println!(
        "| {n} | {censored:.1} | {share} | {:.3} | {:.3} | {:.3} |",
        log_log.coverage(),
        linear.coverage(),
        log_log.without()
    );
    Ok(())
}

fn median_row(n: usize, censored: f64) -> Result<(), SurvivalError> {
    let mut tally = Tally::default();
    for repetition in 0..N_REPETITIONS {
        let sample = exponential_sample(n, censored, repetition)?;
        let curve = kaplan_meier(&sample, &options(Limits::LogLog, Variance::Greenwood))?;
        let median = curve.quantile(0.5);
        let limits = ConfidenceLimits {
            lower: median.lower.unwrap_or(f64::INFINITY),
            upper: median.upper.unwrap_or(f64::INFINITY),
        };
        tally.add(Some(limits), std::f64::consts::LN_2);
    }
    let open = tally.n_open as f64 / tally.n_given as f64;
    println!(
        "| {n} | {censored:.1} | {:.3} | {open:.3} |",
        tally.coverage()
    );
    Ok(())
}

/// Cause 1 at a rate of each cluster's own (exponential, mean 1), cause 2 at rate 0.5.
fn clustered_sample(
    n_clusters: usize,
    censoring_rate: f64,
    repetition: u64,
) -> Result<Sample, SurvivalError> {
    let mut draws = Draws::new(repetition);
    let (mut exit, mut cause, mut cluster) = (Vec::new(), Vec::new(), Vec::new());
    for number in 0..n_clusters as u32 {
        let rate = draws.waiting(1.0);
        for _ in 0..CLUSTER_SIZE {
            let (first, second) = (draws.waiting(rate), draws.waiting(OTHER_RATE));
            let end = draws.waiting(censoring_rate);
            let time = first.min(second).min(end);
            exit.push(time);
            cause.push(if time == end {
                0
            } else {
                1 + u32::from(second < first)
            });
            cluster.push(number);
        }
    }
    Sample::new(exit, cause)?
        .with_causes(&[1, 2])
        .with_cluster(cluster)
}

const OTHER_RATE: f64 = 0.5;

/// Incidence of cause 1 at time 1: the integral of exp(-s/2) / (1 + s)^2, by Simpson's rule on 200 steps.
fn true_incidence() -> f64 {
    let density = |s: f64| (-OTHER_RATE * s).exp() / ((1.0 + s) * (1.0 + s));
    let n_steps = 200;
    let sum: f64 = (0..=n_steps)
        .map(|step| {
            let weight = match step {
                0 => 1.0,
                _ if step == n_steps => 1.0,
                _ if step % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * density(f64::from(step) / f64::from(n_steps))
        })
        .sum();
    sum / (3.0 * f64::from(n_steps))
}

fn incidence_row(n_clusters: usize, censored: f64) -> Result<(), SurvivalError> {
    let truth = true_incidence();
    // the share of rows censored before time 1 if nothing else happened
    let censoring_rate = (1.0 - censored).recip().ln();
    let [mut by_cluster, mut as_rows] = [Tally::default(), Tally::default()];
    for repetition in 0..N_REPETITIONS {
        let sample = clustered_sample(n_clusters, censoring_rate, repetition)?;
        for (tally, variance) in [
            (&mut by_cluster, Variance::Robust),
            (&mut as_rows, Variance::Greenwood),
        ] {
            let found = aalen_johansen(&sample, &options(Limits::LogLog, variance))?;
            tally.add(
                found.of_cause(1).and_then(|curve| limits_at(curve, 1.0)),
                truth,
            );
        }
    }
    println!(
        "| {n_clusters} | {censored:.1} | {truth:.3} | {:.3} | {:.3} | {:.3} |",
        by_cluster.coverage(),
        as_rows.coverage(),
        by_cluster.without()
    );
    Ok(())
}

/// The chance that limits hold the truth: the summed chances of the counts whose limits do.
fn covered(chances: &[f64], truth: f64, limits: impl Fn(u64) -> Option<ConfidenceLimits>) -> f64 {
    let holds = |count: u64| {
        limits(count).is_some_and(|limits| limits.lower <= truth && truth <= limits.upper)
    };
    (0_u64..)
        .zip(chances)
        .filter(|&(count, _)| holds(count))
        .map(|(_, chance)| chance)
        .sum()
}

fn proportion_row(n: u64, share: f64) {
    // each chance from the one before; (1 - share)^1000 is still far above the smallest number
    let mut chances = vec![(1.0 - share).powf(n as f64)];
    let mut chance = chances.iter().sum::<f64>();
    for count in 1..=n {
        chance *= (n - count + 1) as f64 / count as f64 * share / (1.0 - share);
        chances.push(chance);
    }
    let of = |kind| {
        covered(&chances, share, |count| {
            proportion(count, n, LEVEL, kind).limits
        })
    };
    println!(
        "| {n} | {share} | {:.3} | {:.3} |",
        of(ProportionLimits::Wilson),
        of(ProportionLimits::Exact)
    );
}

/// Chances of the counts from 0 to 20 standard deviations above the mean.
fn poisson_chances(mean: f64) -> Vec<f64> {
    let last = (mean + 20.0 * mean.sqrt() + 20.0) as u32;
    let mut chance = (-mean).exp();
    let mut chances = vec![chance];
    for count in 1..=last {
        chance *= mean / f64::from(count);
        chances.push(chance);
    }
    chances
}
