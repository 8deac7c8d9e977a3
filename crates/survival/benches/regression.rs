//! Cost of the regression models and of the interval-censored estimate. Each bench checks one figure of its answer, so that
//! it cannot time something else.
//!
//! Clusters may cost 1.3 times the plain fit, delayed entry 1.5 times. Run with `cargo bench -p survival --bench regression`.
#![allow(clippy::unwrap_used)]

use divan::{Bencher, black_box};
use survival::Sample;
use survival::counts::PoissonBinomial;
use survival::interval::{IntervalRegressionOptions, IntervalSample, interval_regression, npmle};
use survival::regression::concordance::TimeWeight;
use survival::regression::cox::{CoxOptions, TimeTransform, cox};
use survival::regression::fine_gray::{FineGrayOptions, fine_gray};
use survival::regression::{BinaryOutcomes, Covariate, Covariates, LogisticOptions, logistic};
use survival::weighting::{PropensityModel, Target, WeightOptions, weighted_contrast_of_model};

fn main() {
    divan::main();
}

const SIZES: [usize; 2] = [10_000, 100_000];
const N_TERMS: usize = 6;

/// Even numbers between 0 and 1 from a fixed start (Marsaglia, Journal of Statistical Software 2003;8(14)).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Follow-up in whole days with two causes, a delayed entry, clusters of three, six covariates; the first has log hazard ratio 0.5.
struct Cohort {
    sample: Sample,
    entry: Vec<f64>,
    cluster: Vec<u32>,
    covariates: Covariates,
}

fn cohort(n_rows: usize) -> Cohort {
    let mut numbers = Numbers(88_172_645_463_325_252);
    let mut columns = vec![Vec::new(); N_TERMS];
    let (mut exit, mut cause, mut entry) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..n_rows {
        for column in &mut columns {
            column.push(numbers.next());
        }
        let first = columns[0].last().copied().unwrap_or(0.0);
        let time = -numbers.next().ln() * 400.0 * (-0.5 * first).exp();
        let other = -numbers.next().ln() * 900.0;
        let censored = numbers.next() * 1500.0;
        let end = time.min(other).min(censored).ceil();
        exit.push(end);
        cause.push(if time <= other && time <= censored {
            1
        } else {
            u32::from(other <= censored) * 2
        });
        entry.push((end * 0.5 * numbers.next()).floor());
    }
    let columns = columns
        .into_iter()
        .enumerate()
        .map(|(term, values)| Covariate {
            name: format!("x{term}"),
            values,
        });
    Cohort {
        sample: Sample::new(exit, cause).unwrap(),
        entry,
        cluster: (0..n_rows as u32).map(|row| row / 3).collect(),
        covariates: Covariates::new(n_rows, columns.collect()).unwrap(),
    }
}

fn options() -> CoxOptions {
    CoxOptions {
        cause: Some(1),
        ..CoxOptions::default()
    }
}

fn check(estimate: Option<f64>) {
    assert!(estimate.is_some_and(|estimate| (estimate - 0.5).abs() < 0.2));
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn hazards_plain(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample, covariates, ..
    } = cohort(n_rows);
    bencher.bench_local(|| {
        check(
            cox(black_box(&sample), &covariates, None, &options())
                .unwrap()
                .terms[0]
                .estimate,
        )
    });
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn hazards_clustered(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample,
        covariates,
        cluster,
        ..
    } = cohort(n_rows);
    let sample = sample.with_cluster(cluster).unwrap();
    bencher.bench_local(|| {
        check(
            cox(black_box(&sample), &covariates, None, &options())
                .unwrap()
                .terms[0]
                .estimate,
        )
    });
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn hazards_delayed_entry(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample,
        covariates,
        entry,
        ..
    } = cohort(n_rows);
    let sample = sample.with_entry(entry).unwrap();
    bencher.bench_local(|| {
        check(
            cox(black_box(&sample), &covariates, None, &options())
                .unwrap()
                .terms[0]
                .estimate,
        )
    });
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn concordance(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample, covariates, ..
    } = cohort(n_rows);
    let fit = cox(&sample, &covariates, None, &options()).unwrap();
    bencher.bench_local(|| {
        assert!(
            fit.concordance(black_box(TimeWeight::AtRisk))
                .unwrap()
                .estimate
                > 0.5
        )
    });
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn incidence(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample, covariates, ..
    } = cohort(n_rows);
    bencher.bench_local(|| {
        assert!(
            fine_gray(
                black_box(&sample),
                &covariates,
                None,
                &FineGrayOptions::default()
            )
            .unwrap()
            .terms[0]
                .estimate
                .unwrap()
                > 0.2
        )
    });
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn proportionality(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample, covariates, ..
    } = cohort(n_rows);
    let fit = cox(&sample, &covariates, None, &options()).unwrap();
    bencher.bench_local(|| {
        let found = fit.proportionality_test(black_box(TimeTransform::KaplanMeier));
        // the hazards are proportional: 6 terms give about 6
        assert!(found.unwrap().global.statistic < 30.0);
    });
}

/// Whether the first cause came, whenever: about the log hazard ratio, less what censoring takes from it.
fn first_cause(sample: &Sample) -> Vec<bool> {
    sample.cause().iter().map(|&cause| cause == 1).collect()
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn odds(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample, covariates, ..
    } = cohort(n_rows);
    let outcomes = BinaryOutcomes::new(first_cause(&sample)).unwrap();
    let options = LogisticOptions::default();
    bencher.bench_local(|| {
        let fit = logistic(black_box(&outcomes), &covariates, &options).unwrap();
        check(fit.terms[1].estimate);
    });
}

/// The groups are drawn by lot, whatever the covariates: the means differ by chance alone.
#[divan::bench(args = SIZES, sample_count = 5)]
fn weighted_difference(bencher: Bencher, n_rows: usize) {
    let Cohort {
        sample, covariates, ..
    } = cohort(n_rows);
    let mut numbers = Numbers(362_436_069);
    let is_treated: Vec<bool> = (0..n_rows).map(|_| numbers.next() < 0.4).collect();
    let outcomes = BinaryOutcomes::new(is_treated.clone()).unwrap();
    let model = logistic(&outcomes, &covariates, &LogisticOptions::default()).unwrap();
    let known = PropensityModel {
        covariates: &covariates,
        propensity: &model.fitted,
    };
    let (options, target) = (
        WeightOptions::default(),
        Target::RestrictedMean { until: 365.0 },
    );
    bencher.bench_local(|| {
        let sample = black_box(&sample);
        let found = weighted_contrast_of_model(sample, &is_treated, &known, &options, target, 0.95);
        assert!(found.unwrap().unwrap().difference.estimate.abs() < 10.0);
    });
}

#[divan::bench(args = [1_000, 10_000], sample_count = 5)]
fn law_of_a_sum_of_chances(bencher: Bencher, n_rows: usize) {
    let mut numbers = Numbers(521_288_629);
    let chances: Vec<f64> = (0..n_rows).map(|_| numbers.next()).collect();
    bencher.bench_local(|| {
        let law = PoissonBinomial::new(black_box(&chances)).unwrap();
        let median = law.quantile(0.5).unwrap() as f64;
        assert!((median - law.mean()).abs() < 1.0);
    });
}

/// Visits every 5 to 15 days until the end of observation: the time lies between two visits, or after the last.
fn between_visits(n_rows: usize) -> IntervalSample {
    let mut numbers = Numbers(88_172_645_463_325_252);
    let (mut lower, mut upper) = (Vec::new(), Vec::new());
    for _ in 0..n_rows {
        let time = 60.0 * -numbers.next().ln();
        let end = 20.0 + 200.0 * numbers.next();
        let mut last = 0.0;
        let next = loop {
            let next = last + 5.0 + 10.0 * numbers.next();
            if next >= time.min(end) {
                break next;
            }
            last = next;
        };
        lower.push(last);
        upper.push(if next > end { f64::INFINITY } else { next });
    }
    IntervalSample::new(lower, upper).unwrap()
}

#[divan::bench(args = SIZES, sample_count = 5)]
fn interval_estimate(bencher: Bencher, n_rows: usize) {
    let sample = between_visits(n_rows);
    bencher.bench_local(|| assert!(npmle(black_box(&sample)).unwrap().largest_excess <= 1e-9));
}

/// The times are exponential with mean 60 whatever the covariates, so that the law's scale is 1.
#[divan::bench(args = SIZES, sample_count = 5)]
fn interval_model(bencher: Bencher, n_rows: usize) {
    let sample = between_visits(n_rows);
    let Cohort { covariates, .. } = cohort(n_rows);
    let options = IntervalRegressionOptions::default();
    bencher.bench_local(|| {
        let fit = interval_regression(black_box(&sample), &covariates, &options).unwrap();
        assert!((fit.scale - 1.0).abs() < 0.1);
    });
}
