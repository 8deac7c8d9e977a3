//! The pipeline file: what to load, what is known, what to report, by which rules.

mod asked;
mod checked;
mod file;

use crate::failure::Failure;
use checked::pipeline;
use chrono::NaiveDate;
use file::PipelineFile;
use intake::Role;
use intake::config::{self, ConfigError};
use outcomes::measure::{Measure, SplitBy};
use outcomes::report::{Audience, Style, choose_style};
use outcomes::rules::{DataHorizon, Quarter, Rules};
use report::DataFormat;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// A pipeline file that has been read and checked. Paths are as good as the file says, relative to it.
#[derive(Debug)]
pub(crate) struct Pipeline {
    /// The file's name as given on the command line.
    pub(crate) name: String,
    /// Its text.
    pub(crate) text: String,
    pub(crate) title: String,
    pub(crate) practice: String,
    /// Layout file: the name as written and where it lies.
    pub(crate) layout: Named,
    pub(crate) files: Vec<InputFile>,
    pub(crate) horizon: DataHorizon,
    pub(crate) quarter: Quarter,
    pub(crate) trend_quarters: u32,
    /// Whom copies are made for, each once, from the fullest copy to the most guarded.
    pub(crate) audiences: Vec<Audience>,
    /// Public reports handed out earlier: their `report.json`, or the folder that holds it.
    pub(crate) earlier_public: Vec<Named>,
    /// Whether each copy is set on paper too.
    pub(crate) has_pdf: bool,
    /// How numbers and dates are written.
    pub(crate) style: Style,
    /// Whether each copy is written as a workbook too.
    pub(crate) has_workbook: bool,
    /// Formats in which tables are written as data files, each once.
    pub(crate) tables: Vec<DataFormat>,
    /// The measures wanted, in catalogue order.
    pub(crate) measures: Vec<&'static Measure>,
    /// What every measure is split by, in the order of the file.
    pub(crate) strata: Vec<SplitBy>,
    pub(crate) rules: Rules,
    /// Run folder, where the file names one.
    pub(crate) folder: Option<PathBuf>,
}

/// A path as written and where it lies.
#[derive(Debug, Clone)]
pub(crate) struct Named {
    pub(crate) written: String,
    pub(crate) path: PathBuf,
}

/// An input file and what it holds.
#[derive(Debug, Clone)]
pub(crate) struct InputFile {
    pub(crate) file: Named,
    pub(crate) role: Option<Role>,
    /// The `[joined.NAME]` of the layout whose rows it holds, where it is no table of its own.
    pub(crate) joined: Option<String>,
    /// The day it was exported, where the file says so.
    pub(crate) exported: Option<NaiveDate>,
}

impl Pipeline {
    /// Refuses a reporting quarter that the export does not reach.
    pub(crate) fn refuse_quarter_outside(&self) -> Result<(), Failure> {
        if is_inside(self.quarter, &self.horizon) {
            return Ok(());
        }
        Err(Failure::with_hint(
            format!("{} lies outside the export", self.quarter),
            format!(
                "the export runs from {} to {}",
                self.horizon.data_start, self.horizon.cut_off
            ),
        ))
    }
}

fn is_inside(quarter: Quarter, horizon: &DataHorizon) -> bool {
    quarter.end() >= horizon.data_start && quarter.start() <= horizon.cut_off
}

/// Reads and checks a pipeline file.
pub(crate) fn read(path: &Path) -> Result<Pipeline, Failure> {
    let name = path.display().to_string();
    let text = read_text(path, "pipeline file")?;
    let file: PipelineFile = config::parse(&text, &name).map_err(config_failure)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let pipeline = pipeline(file, name, text, folder).map_err(config_failure)?;
    choose_style(pipeline.style);
    Ok(pipeline)
}

/// A text file, or a failure that says what it should have been.
pub(crate) fn read_text(path: &Path, what: &str) -> Result<String, Failure> {
    let bytes = std::fs::read(path).map_err(|error| {
        Failure::with_hint(
            format!(
                "{}: could not read the {what}: {}",
                path.display(),
                in_words(error.kind())
            ),
            "check the path; names in a pipeline file are relative to that file",
        )
    })?;
    String::from_utf8(bytes).map_err(|_| {
        Failure::with_hint(
            format!("{}: the {what} is not UTF-8 text", path.display()),
            "save it as UTF-8",
        )
    })
}

/// What went wrong with a file, in plain words.
fn in_words(kind: std::io::ErrorKind) -> String {
    use std::io::ErrorKind::{IsADirectory, NotFound, PermissionDenied};
    match kind {
        NotFound => "there is no such file".to_owned(),
        PermissionDenied => "reading it is not allowed".to_owned(),
        IsADirectory => "it is a folder".to_owned(),
        other => other.to_string(),
    }
}

/// A configuration error as the failure of a command.
pub(crate) fn config_failure(error: ConfigError) -> Failure {
    match &error.hint {
        Some(hint) => Failure::with_hint(&error, hint),
        None => Failure::CannotRun(error.to_string()),
    }
}

/// Makes an error at a place of the pipeline file.
type Fault<'a> = dyn Fn(Range<usize>, String) -> ConfigError + 'a;
