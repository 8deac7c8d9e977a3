//! The table that methods are timed on: made from a seed, written and read.

use std::error::Error;
use std::io::{BufWriter, Write};
use std::mem::take;
use std::path::Path;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use survival::interval::IntervalSample;
use survival::regression::{BinaryOutcomes, Covariate, Covariates};
use survival::{Sample, SurvivalError};

/// The columns of a table. Methods take those they need out of a copy, as somebody would who has them in memory.
#[derive(Default, Clone)]
pub(crate) struct Table {
    entry: Vec<f64>,
    exit: Vec<f64>,
    cause: Vec<u32>,
    group: Vec<u32>,
    cluster: Vec<u32>,
    lower: Vec<f64>,
    upper: Vec<f64>,
    /// Ten, or none in a table for curves.
    covariates: Vec<Covariate>,
}

impl Table {
    /// Reads whole numbers and decimals without quotes; an empty `upper` is an end that was not seen.
    pub(crate) fn read(file: &Path) -> Result<Self, Box<dyn Error>> {
        let text = std::fs::read_to_string(file)?;
        let mut lines = text.lines();
        let header = lines.next().ok_or("an empty file")?;
        let mut table = Self::default();
        let names = header.split(',').filter(|name| name.starts_with('x'));
        table.covariates = names
            .map(|name| Covariate {
                name: name.to_owned(),
                values: Vec::new(),
            })
            .collect();
        for line in lines {
            let mut covariates = table.covariates.iter_mut();
            for (name, cell) in header.split(',').zip(line.split(',')) {
                match name {
                    "entry" => table.entry.push(cell.parse()?),
                    "exit" => table.exit.push(cell.parse()?),
                    "cause" => table.cause.push(cell.parse()?),
                    "group" => table.group.push(cell.parse()?),
                    "cluster" => table.cluster.push(cell.parse()?),
                    "lower" => table.lower.push(cell.parse()?),
                    "upper" if cell.is_empty() => table.upper.push(f64::INFINITY),
                    "upper" => table.upper.push(cell.parse()?),
                    _ => match covariates.next() {
                        Some(covariate) => covariate.values.push(cell.parse()?),
                        None => return Err("a column that is not known".into()),
                    },
                }
            }
        }
        Ok(table)
    }

    pub(crate) fn sample(&mut self) -> Result<Sample, SurvivalError> {
        Sample::new(take(&mut self.exit), take(&mut self.cause))
    }

    pub(crate) fn clustered(&mut self) -> Result<Sample, SurvivalError> {
        self.sample()?.with_cluster(take(&mut self.cluster))
    }

    pub(crate) fn late(&mut self) -> Result<Sample, SurvivalError> {
        self.sample()?.with_entry(take(&mut self.entry))
    }

    pub(crate) fn group(&self) -> &[u32] {
        &self.group
    }

    /// Whether the first cause was seen.
    pub(crate) fn outcomes(&self) -> Result<BinaryOutcomes, SurvivalError> {
        BinaryOutcomes::new(self.cause.iter().map(|&cause| cause == 1).collect())
    }

    /// The first covariate.
    pub(crate) fn score(&self) -> &[f64] {
        self.covariates.first().map_or(&[], |column| &column.values)
    }

    /// The first four.
    pub(crate) fn four(&mut self) -> Result<Covariates, SurvivalError> {
        self.covariates.truncate(4);
        self.ten()
    }

    pub(crate) fn ten(&mut self) -> Result<Covariates, SurvivalError> {
        Covariates::new(self.group.len(), take(&mut self.covariates))
    }

    pub(crate) fn intervals(&mut self) -> Result<IntervalSample, SurvivalError> {
        IntervalSample::new(take(&mut self.lower), take(&mut self.upper))
    }
}

/// Covariates that take part in the risk of the first cause.
const EFFECTS: [f64; 4] = [0.5, -0.3, 0.0, 0.0];
const N_COVARIATES: usize = 10;

/// Writes a table: two causes, clusters of three with a shared frailty, ten covariates, whole days, a late entry for three
/// rows in ten, visits every one to eight weeks. With `only_curves` the columns that no curve reads are left out.
pub(crate) fn write(
    file: &Path,
    n_rows: u32,
    seed: u64,
    only_curves: bool,
) -> Result<(), Box<dyn Error>> {
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed));
    let mut out = BufWriter::new(std::fs::File::create(file)?);
    write!(out, "entry,exit,cause,group,cluster")?;
    if !only_curves {
        write!(out, ",lower,upper")?;
        for number in 1..=N_COVARIATES {
            write!(out, ",x{number}")?;
        }
    }
    writeln!(out)?;
    let mut frailty = 1.0;
    for row in 0..n_rows {
        if row % 3 == 0 {
            // a gamma variable of shape 2 and mean 1
            frailty = draw.waiting(2.0) + draw.waiting(2.0);
        }
        let group = f64::from(u8::from(draw.uniform() < 0.5));
        let x: [f64; N_COVARIATES] = std::array::from_fn(|place| match place % 4 {
            1 => f64::from(u8::from(draw.uniform() < 0.4)),
            2 => draw.uniform(),
            _ => draw.normal(),
        });
        let score: f64 = EFFECTS.iter().zip(&x).map(|(effect, x)| effect * x).sum();
        let event = draw.waiting((score + 0.1 * group).exp() * frailty / 200.0);
        let other = draw.waiting(1.0 / 600.0);
        let censored = 30.0 + 690.0 * draw.uniform();
        let end = event.min(other).min(censored);
        let cause = match end {
            _ if end == event => 1,
            _ if end == other => 2,
            _ => 0,
        };
        let is_late = draw.uniform() < 0.3;
        let share = if is_late { 0.5 * draw.uniform() } else { 0.0 };
        let entry = (share * end.ceil()).floor();
        write!(out, "{entry},{},{cause},{group},{}", end.ceil(), row / 3)?;
        if !only_curves {
            let (mut lower, mut visit) = (0.0, 0.0);
            while visit < event && visit < censored {
                lower = visit;
                visit += 7.0 + (50.0 * draw.uniform()).floor();
            }
            if visit >= event {
                write!(out, ",{lower},{visit}")?;
            } else {
                write!(out, ",{visit},")?;
            }
            for value in x {
                write!(out, ",{value:.4}")?;
            }
        }
        writeln!(out)?;
    }
    Ok(out.flush()?)
}

/// Random numbers.
struct Draw(ChaCha8Rng);

impl Draw {
    /// Strictly between 0 and 1.
    fn uniform(&mut self) -> f64 {
        ((self.0.next_u64() >> 12) as f64 + 0.5) / (1_u64 << 52) as f64
    }

    /// Exponential with this rate.
    fn waiting(&mut self, rate: f64) -> f64 {
        -self.uniform().ln() / rate
    }

    /// Standard normal (Box and Muller, Ann Math Stat 1958;29:610).
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}
