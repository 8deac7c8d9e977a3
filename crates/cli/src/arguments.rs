//! What the program can be asked for.

use crate::estimate::EstimateArguments;
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Turns a foot clinic's de-identified visit exports into outcomes a practice can stand behind
///
/// One command loads an export through a layout, checks it, derives ulcer episodes, measures outcomes and writes a
/// quarterly report into a run folder, whole or not at all.
///
/// Data go to stdout, words to stderr. No value of a cell is ever printed: a finding names file, record, column
/// and rule.
///
/// Exit codes: 0 done, 1 the data stopped the run, 2 could not run.
#[derive(Debug, Parser)]
#[command(name = "limbledger", version, max_term_width = 100)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Make the quarterly report of a pipeline file
    ///
    /// Writes manifest.json and a folder for each audience into a run folder. The folder appears when everything is
    /// written; a run that fails leaves nothing behind, and an earlier run in its place untouched.
    #[command(after_help = "Example:\n  limbledger run pipelines/quarterly.toml")]
    Run(RunArguments),
    /// Load and check an export without computing outcomes
    ///
    /// Prints row accounts and findings by rule. Nothing is written. Exit code 1 when the data would stop a run.
    #[command(after_help = "Example:\n  limbledger check pipelines/quarterly.toml --places 5")]
    Check(CheckArguments),
    /// Run an estimator on a plain table
    ///
    /// For checking the numbers from outside: options name columns, every default in force is printed.
    #[command(
        after_help = "Example:\n  limbledger estimate kaplan-meier times.csv --exit days --cause outcome --group arm --json",
        after_long_help = crate::estimate::methods_in_help()
    )]
    Estimate(Box<EstimateArguments>),
    /// Explain a measure, a check, a setting or a method of `estimate`
    #[command(after_help = "Example:\n  limbledger explain healed-within-12-weeks")]
    Explain(ExplainArguments),
    /// List measures, checks, settings, codes or methods
    #[command(after_help = "Example:\n  limbledger list measures")]
    List(ListArguments),
    /// Make a synthetic export with known truth
    ///
    /// Everybody in it is invented. The same seed gives the same bytes on every machine.
    #[command(
        after_help = "Example:\n  limbledger simulate --seed 7 --patients 400 --out made-up-clinic"
    )]
    Simulate(SimulateArguments),
}

#[derive(Debug, Args)]
pub(crate) struct RunArguments {
    /// Pipeline file (TOML)
    pub(crate) pipeline: PathBuf,
    /// Run folder to write, instead of the one the pipeline file names
    #[arg(long, value_name = "FOLDER")]
    pub(crate) out: Option<PathBuf>,
    /// Reporting quarter, instead of the one the pipeline file names, for example 2025Q3
    #[arg(long, value_name = "QUARTER")]
    pub(crate) quarter: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct CheckArguments {
    /// Pipeline file (TOML)
    pub(crate) pipeline: PathBuf,
    /// How many places to name for each finding
    #[arg(long, value_name = "N", default_value_t = 3)]
    pub(crate) places: usize,
}

#[derive(Debug, Args)]
pub(crate) struct ExplainArguments {
    /// Id of a measure or check, or name of a setting or method
    pub(crate) name: String,
}

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub(crate) enum Listing {
    /// Measures, by family
    Measures,
    /// Checks and what they do to a row
    Checks,
    /// Settings, with their defaults
    Settings,
    /// Codes a layout may map to, by field
    Codes,
    /// Methods of `estimate`, and what they need
    Methods,
}

#[derive(Debug, Args)]
pub(crate) struct ListArguments {
    /// What to list
    pub(crate) what: Listing,
}

#[derive(Debug, Args)]
pub(crate) struct SimulateArguments {
    /// Folder to write; it must not exist yet
    #[arg(long, value_name = "FOLDER")]
    pub(crate) out: PathBuf,
    /// Seed: the same seed gives the same bytes
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// How many people
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) patients: Option<u32>,
    /// Scenario file (TOML) with settings that differ from the defaults
    #[arg(long, value_name = "FILE")]
    pub(crate) scenario: Option<PathBuf>,
}
