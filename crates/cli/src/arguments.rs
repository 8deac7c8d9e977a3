//! What the program can be asked for.

use crate::estimate::EstimateArguments;
use clap::{Args, Parser, Subcommand};
use outcomes::measure::Part;
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
    /// Prints what became of rows and bytes, findings by rule and column, what the screen for identifiers says, doubts about
    /// units, dates and patient ids, how full each column is, and what changed since an earlier time. Exit code 1 when the
    /// data would stop a run.
    #[command(
        after_help = "Examples:\n  limbledger check pipelines/quarterly.toml --places 5\n  limbledger check pipelines/quarterly.toml --html check.html\n  limbledger check new.toml --earlier old.toml"
    )]
    Check(CheckArguments),
    /// Draft a layout for an export that nobody has described yet
    ///
    /// Reads headers and the first rows, and writes a layout for a person to finish. Every line says how sure it is and why;
    /// what is not sure stays a comment. Of the cells only codes that many rows share are written. Columns that look like
    /// what identifies a person are listed first, and the exit code is 1.
    #[command(after_help = "Example:\n  limbledger draft-layout visits.csv --out layout.toml")]
    DraftLayout(DraftArguments),
    /// Run an estimator on a plain table
    ///
    /// For checking the numbers from outside: options name columns, every default in force is printed.
    #[command(
        after_help = "Example:\n  limbledger estimate kaplan-meier times.csv --exit days --cause outcome --group arm --json",
        after_long_help = crate::estimate::methods_in_help()
    )]
    Estimate(Box<EstimateArguments>),
    /// Grade every row of a plain table by a clinical scale
    ///
    /// Writes the table with the grade, its lowest and highest, and why. A missing item gives a range or "not gradable",
    /// never a zero. A cell that is not accepted is named on stderr by record and column, and read as not recorded.
    #[command(
        after_help = "Example:\n  limbledger grade sinbad sample-data/grade/sinbad.csv\n\n`--help` lists the scales, `limbledger explain SCALE` describes one.",
        after_long_help = crate::command::scales_in_help()
    )]
    Grade(GradeArguments),
    /// Say whether a run folder still holds what its manifest says
    ///
    /// Looks at every output, and with --pipeline also at inputs, layout, settings and known dates. Exit code 1 when
    /// something differs.
    #[command(
        after_help = "Example:\n  limbledger verify reports/2025Q4 --pipeline pipelines/quarterly.toml"
    )]
    Verify(VerifyArguments),
    /// Follow a figure of a report to the people and rows behind it
    ///
    /// Prints a line a subject: its part in the figure, the pseudonymous id, and file and record of the rows that began
    /// and ended it. Reads the auditor's trace.csv, or with --pipeline the export itself. Exit code 1 when the lines do
    /// not add up to the counts in the report.
    #[command(
        after_help = "Example:\n  limbledger trace reports/2025Q4 healed-within-12-weeks 2025Q2 --only unknown"
    )]
    Trace(TraceArguments),
    /// Say which figures of an earlier run changed, and why
    ///
    /// From what both printed; with pipeline files the figures are made again one change at a time: program, corrected
    /// data, settings, new data.
    #[command(
        after_help = "Example:\n  limbledger compare reports/2025Q3 reports/2025Q4 --later-pipeline pipelines/quarterly.toml"
    )]
    Compare(CompareArguments),
    /// Explain a measure, a check, a setting, a method of `estimate`, a scale of `grade` or a table of published codes
    #[command(after_help = "Example:\n  limbledger explain healed-within-12-weeks")]
    Explain(ExplainArguments),
    /// List measures, checks, settings, codes, methods, scales or strata
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
    /// Run folder of an earlier report: say in this one what became of its figures, and why
    #[arg(long, value_name = "RUN_FOLDER")]
    pub(crate) compare_with: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct VerifyArguments {
    /// Run folder
    pub(crate) run: PathBuf,
    /// Pipeline file the run was made from: look at inputs and settings too
    #[arg(long, value_name = "FILE")]
    pub(crate) pipeline: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct TraceArguments {
    /// Run folder
    pub(crate) run: PathBuf,
    /// Id of the measure
    pub(crate) measure: String,
    /// Quarter of the cohort, for example 2025Q1; the newest cohort in the report unless given
    pub(crate) quarter: Option<String>,
    /// Last quarter, for a cohort of several
    pub(crate) last_quarter: Option<String>,
    /// Stratum of the measure itself, as the report words it; those the pipeline file names (site and the like) are not traced
    #[arg(long, value_name = "WORDS")]
    pub(crate) stratum: Option<String>,
    /// Only subjects of this part: numerator, denominator (and not numerator), unknown, not-judged
    #[arg(long, value_name = "PART", value_parser = part)]
    pub(crate) only: Option<Part>,
    /// Pipeline file the run was made from: read the export again instead of the trace file
    #[arg(long, value_name = "FILE")]
    pub(crate) pipeline: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

fn part(text: &str) -> Result<Part, String> {
    Part::from_code(text)
        .filter(|part| *part != Part::Outside)
        .ok_or_else(|| "parts are numerator, denominator, unknown and not-judged".to_owned())
}

#[derive(Debug, Args)]
pub(crate) struct CompareArguments {
    /// Run folder of the earlier report
    pub(crate) earlier: PathBuf,
    /// Run folder of the later report
    pub(crate) later: PathBuf,
    /// Pipeline file of the later run
    #[arg(long, value_name = "FILE")]
    pub(crate) later_pipeline: Option<PathBuf>,
    /// Pipeline file of the earlier run, with the export of then: tells a changed program from corrected data
    #[arg(long, value_name = "FILE", requires = "later_pipeline")]
    pub(crate) earlier_pipeline: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct CheckArguments {
    /// Pipeline file (TOML)
    pub(crate) pipeline: PathBuf,
    /// How many places to name for each finding
    #[arg(long, value_name = "N", default_value_t = 3)]
    pub(crate) places: usize,
    /// Everything as JSON instead of text; a later check can be held against it
    #[arg(long)]
    pub(crate) json: bool,
    /// Write a page too: one file, no script, no network
    #[arg(long, value_name = "FILE.html")]
    pub(crate) html: Option<PathBuf>,
    /// Earlier export to hold this one against: its pipeline file, or the JSON of an earlier check
    #[arg(long, value_name = "FILE")]
    pub(crate) earlier: Option<PathBuf>,
    /// Day from which rows are held against those before it [default: the month after the earlier export, or the first
    /// day of the quarter]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub(crate) since: Option<chrono::NaiveDate>,
}

#[derive(Debug, Args)]
pub(crate) struct DraftArguments {
    /// Files of one export (CSV, newline-delimited JSON, also gzipped, or Parquet)
    #[arg(required = true)]
    pub(crate) files: Vec<PathBuf>,
    /// Layout file to write, instead of printing it; it must not exist yet
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct GradeArguments {
    /// Scale, for example sinbad, wifi or risk-tier
    pub(crate) scale: String,
    /// Table (CSV, UTF-8, a header in the first row)
    pub(crate) file: PathBuf,
    /// Column of an item, where its header is none of the known ones; may be given several times
    #[arg(long, value_name = "ITEM=HEADER")]
    pub(crate) column: Vec<String>,
    /// Grades as JSON instead of the table
    #[arg(long)]
    pub(crate) json: bool,
    /// Edition of the vascular guideline: 2015, 2019 or 2023
    #[arg(long, value_name = "YEAR", default_value = "2023")]
    pub(crate) guideline: String,
    /// Edition of the infection criteria: 2012, 2019 or 2023
    #[arg(long, value_name = "YEAR", default_value = "2023")]
    pub(crate) infection_criteria: String,
    /// An ankle-brachial index above this measures nothing [default: 1.3]
    #[arg(long, value_name = "INDEX")]
    pub(crate) abi_limit: Option<f64>,
    /// Decimals with which pressure indices are charted and compared
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=6))]
    pub(crate) index_decimals: u32,
    /// Area from length and width: ellipse or rectangle
    #[arg(long, value_name = "FORMULA", default_value = "ellipse")]
    pub(crate) area_formula: String,
    /// First area in square cm below which no reduction is given [default: 0.2]
    #[arg(long, value_name = "CM2")]
    pub(crate) smallest_first_area: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct ExplainArguments {
    /// Id of a measure, check or scale, or name of a setting, method or code table
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
    /// Codes a layout may map to, by field, and the tables of published codes
    Codes,
    /// Methods of `estimate`, and what they need
    Methods,
    /// Scales of `grade`
    Scales,
    /// What measures can be split by
    Strata,
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
    /// Write the same practice as HL7 FHIR R4 too
    #[arg(long)]
    pub(crate) fhir: bool,
    /// Write the same practice as Apache Parquet too: the wide export as text, the five plain files with types
    #[arg(long)]
    pub(crate) parquet: bool,
    /// Write the visits also with shifted dates: all of a person moved by the same whole weeks, at most so many days
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(u32).range(7..=1826))]
    pub(crate) shifted_by_at_most_days: Option<u32>,
    /// Write the visits also as two systems would, the new one from this day on, for example 2024-07-01
    #[arg(long, value_name = "DATE")]
    pub(crate) upgraded_on: Option<chrono::NaiveDate>,
}
