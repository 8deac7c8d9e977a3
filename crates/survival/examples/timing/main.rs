//! Seconds that each method takes on a table in memory: from its columns to the answer.
//!
//! `cargo run --release -p survival --example timing -- make FILE.csv ROWS SEED [curves]` makes a table, without the columns that
//! no curve reads when `curves` is asked for; `... -- FILE.csv [METHOD,METHOD [TURNS]]` prints one JSON object a method, a line each.
//! `figure` is one number of the answer, so that answers can be compared as well. `tests/peers/time_peers.py` calls both.
#![allow(clippy::print_stdout, reason = "an example prints")]

mod table;

use std::error::Error;
use std::path::Path;
use std::time::Instant;
use survival::interval::{IntervalRegressionOptions, interval_regression, npmle};
use survival::regression::concordance::{TimeWeight, concordance};
use survival::regression::cox::{CoxOptions, TimeTransform, cox};
use survival::regression::fine_gray::{FineGrayOptions, fine_gray};
use survival::regression::{Covariates, LogisticOptions, logistic};
use survival::weighting::BootstrapOptions;
use survival::{
    Curve, CurveOptions, GrayOptions, LogRankOptions, Sample, SurvivalError, Variance,
    aalen_johansen, bootstrap_quantile, gray_test, kaplan_meier, log_rank, nelson_aalen,
};
use table::Table;

type Answer = Result<Option<f64>, SurvivalError>;

/// A name, and how to get from the columns to the figure.
type Method = (&'static str, fn(&mut Table) -> Answer);

/// The curves' figures are read on this day.
const DAY: f64 = 180.0;

const METHODS: [Method; 20] = [
    ("kaplan-meier", |table| {
        let curve = kaplan_meier(&table.sample()?, &CurveOptions::default())?;
        Ok(estimate(&curve))
    }),
    ("kaplan-meier-by-cluster", |table| {
        let curve = kaplan_meier(&table.clustered()?, &robust())?;
        Ok(std_error(&curve))
    }),
    ("nelson-aalen", |table| {
        let curve = nelson_aalen(
            &table.sample()?,
            &CurveOptions {
                variance: Variance::Aalen,
                ..CurveOptions::default()
            },
        )?;
        Ok(estimate(&curve))
    }),
    ("log-rank", |table| {
        let found = log_rank(
            &table.sample()?,
            table.group(),
            None,
            &LogRankOptions::default(),
        )?;
        Ok(found.test.statistic)
    }),
    ("cumulative-incidence", |table| {
        let found = aalen_johansen(&table.sample()?, &CurveOptions::default())?;
        Ok(found.of_cause(1).and_then(estimate))
    }),
    ("cumulative-incidence-by-cluster", |table| {
        let found = aalen_johansen(&table.clustered()?, &robust())?;
        Ok(found.of_cause(1).and_then(std_error))
    }),
    ("gray", |table| {
        let options = GrayOptions::default();
        let found = gray_test(&table.sample()?, 1, table.group(), None, &options)?;
        Ok(found.statistic)
    }),
    ("cox", |table| coefficient(&table.sample()?, &table.four()?)),
    ("cox-by-cluster", |table| {
        robust_error(&table.clustered()?, &table.four()?)
    }),
    ("cox-with-delayed-entry", |table| {
        coefficient(&table.late()?, &table.four()?)
    }),
    ("cox-of-ten", |table| {
        coefficient(&table.sample()?, &table.ten()?)
    }),
    ("cox-of-ten-by-cluster", |table| {
        robust_error(&table.clustered()?, &table.ten()?)
    }),
    ("cox-of-ten-with-delayed-entry", |table| {
        coefficient(&table.late()?, &table.ten()?)
    }),
    ("proportional-hazards-test", |table| {
        let fit = cox(&table.sample()?, &table.four()?, None, &of_cause_1())?;
        let found = fit.proportionality_test(TimeTransform::KaplanMeier)?;
        Ok(Some(found.global.statistic))
    }),
    ("concordance", |table| {
        let sample = table.sample()?.only_cause(1);
        let found = concordance(&sample, table.score(), None, TimeWeight::AtRisk)?;
        Ok(found.map(|found| found.estimate))
    }),
    ("bootstrap-of-a-median", |table| {
        let options = BootstrapOptions {
            n_repetitions: 200,
            seed: 1,
            level: 0.95,
            n_threads: None,
        };
        let found = bootstrap_quantile(&table.sample()?, 0.5, &options)?;
        Ok(found.estimate)
    }),
    ("fine-gray", |table| {
        let fit = fine_gray(
            &table.sample()?,
            &table.four()?,
            None,
            &FineGrayOptions::default(),
        )?;
        Ok(fit.terms.first().and_then(|term| term.estimate))
    }),
    ("logistic", |table| {
        let options = LogisticOptions::default();
        let fit = logistic(&table.outcomes()?, &table.four()?, &options)?;
        Ok(fit.terms.get(1).and_then(|term| term.estimate))
    }),
    ("interval-regression", |table| {
        let options = IntervalRegressionOptions::default();
        let fit = interval_regression(&table.intervals()?, &table.four()?, &options)?;
        Ok(fit.terms.get(1).and_then(|term| term.estimate))
    }),
    ("npmle", |table| {
        Ok(Some(npmle(&table.intervals()?)?.log_likelihood))
    }),
];

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let file = arguments.next().ok_or("name a CSV file")?;
    if file == "make" {
        let mut asked = || arguments.next().ok_or("make FILE ROWS SEED");
        let (file, n_rows, seed) = (asked()?, asked()?.parse()?, asked()?.parse()?);
        return table::write(Path::new(&file), n_rows, seed, arguments.next().is_some());
    }
    let only = arguments.next();
    let n_turns: Option<usize> = arguments.next().map(|turns| turns.parse()).transpose()?;
    let table = Table::read(Path::new(&file))?;
    for (method, run) in &METHODS {
        let is_asked = |only: &String| only.split(',').any(|only| only == *method);
        if !only.as_ref().is_none_or(is_asked) {
            continue;
        }
        let mut seconds = f64::INFINITY;
        let mut figure = None;
        let begun = Instant::now();
        // the best of three to twenty, fewer when they are long; as many as were asked for, to count a processor's cycles by
        for turn in 1..=n_turns.unwrap_or(20) {
            let mut columns = table.clone();
            let start = Instant::now();
            figure = run(&mut columns)?;
            seconds = seconds.min(start.elapsed().as_secs_f64());
            let spent = begun.elapsed().as_secs_f64();
            if n_turns.is_none() && (spent > 5.0 || (turn >= 3 && spent > 1.0)) {
                break;
            }
        }
        let line = serde_json::json!({ "method": method, "seconds": seconds, "figure": figure });
        println!("{line}");
    }
    Ok(())
}

fn robust() -> CurveOptions {
    CurveOptions {
        variance: Variance::Robust,
        ..CurveOptions::default()
    }
}

fn of_cause_1() -> CoxOptions {
    CoxOptions {
        cause: Some(1),
        ..CoxOptions::default()
    }
}

fn estimate(curve: &Curve) -> Option<f64> {
    curve.at(DAY).map(|point| point.estimate)
}

fn std_error(curve: &Curve) -> Option<f64> {
    curve.at(DAY).and_then(|point| point.std_error)
}

fn coefficient(sample: &Sample, covariates: &Covariates) -> Answer {
    let fit = cox(sample, covariates, None, &of_cause_1())?;
    Ok(fit.terms.first().and_then(|term| term.estimate))
}

fn robust_error(sample: &Sample, covariates: &Covariates) -> Answer {
    let fit = cox(sample, covariates, None, &of_cause_1())?;
    Ok(fit.terms.first().and_then(|term| term.robust_std_error))
}
