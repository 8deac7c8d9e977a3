//! The pipeline file: what to load, what is known, what to report, by which rules.

mod asked;

use crate::failure::Failure;
use asked::{audiences, data_formats, strata, wanted, worded};
use chrono::NaiveDate;
use intake::Role;
use intake::config::{self, ConfigError};
use outcomes::measure::{MEASURES, Measure, SplitBy};
use outcomes::report::{Audience, DateOrder, DecimalMark, Style, choose_style};
use outcomes::rules::{DataHorizon, Quarter, Rules};
use report::DataFormat;
use serde::{Deserialize, Deserializer};
use std::ops::Range;
use std::path::{Component, Path, PathBuf};
use toml::Spanned;

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

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PipelineFile {
    title: Spanned<String>,
    practice: Spanned<String>,
    export: ExportPart,
    known: KnownPart,
    report: ReportPart,
    rules: Option<Spanned<Rules>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ExportPart {
    layout: String,
    file: Spanned<Vec<FilePart>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct FilePart {
    path: String,
    role: Option<Role>,
    joined: Option<String>,
    exported: Option<Day>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct KnownPart {
    data_start: Day,
    cut_off: Spanned<Day>,
    deaths_known_to: Option<Spanned<Day>>,
    procedures_known_to: Option<Spanned<Day>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ReportPart {
    quarter: Spanned<String>,
    #[serde(default = "default_trend")]
    trend_quarters: Spanned<u32>,
    audiences: Option<Spanned<Vec<Spanned<String>>>>,
    #[serde(default)]
    pdf: bool,
    decimal_mark: Option<Spanned<String>>,
    date_order: Option<Spanned<String>>,
    #[serde(default)]
    workbook: bool,
    #[serde(default)]
    tables: Vec<Spanned<String>>,
    measures: Option<Spanned<Vec<Spanned<String>>>>,
    #[serde(default)]
    strata: Vec<Spanned<String>>,
    folder: Option<String>,
    #[serde(default)]
    earlier_public: Vec<String>,
}

fn default_trend() -> Spanned<u32> {
    Spanned::new(0..0, 12)
}

/// A TOML date without a time of day.
#[derive(Debug, Clone, Copy)]
struct Day(NaiveDate);

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let wanted = "expected a date without quotation marks or a time, such as 2025-12-31";
        let value = toml::value::Datetime::deserialize(deserializer)
            .map_err(|_| serde::de::Error::custom(wanted))?;
        let date = match value {
            toml::value::Datetime {
                date: Some(date),
                time: None,
                offset: None,
            } => date,
            _ => {
                return Err(serde::de::Error::custom(
                    "expected a date such as 2025-12-31, without a time",
                ));
            }
        };
        NaiveDate::from_ymd_opt(
            i32::from(date.year),
            u32::from(date.month),
            u32::from(date.day),
        )
        .map(Self)
        .ok_or_else(|| serde::de::Error::custom("expected a date that exists"))
    }
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

fn pipeline(
    file: PipelineFile,
    name: String,
    text: String,
    folder: &Path,
) -> Result<Pipeline, ConfigError> {
    let fault = |span: Range<usize>, message: String| ConfigError::at(&text, &name, &span, message);
    let named = |written: &str| Named {
        written: without_machine_path(written),
        path: folder.join(written),
    };
    let cut_off = file.known.cut_off.get_ref().0;
    let data_start = file.known.data_start.0;
    if cut_off < data_start {
        return Err(fault(
            file.known.cut_off.span(),
            "`known.cut_off` lies before `known.data_start`".to_owned(),
        ));
    }
    for (text, key) in [(&file.title, "title"), (&file.practice, "practice")] {
        if text.get_ref().trim().is_empty() {
            return Err(fault(text.span(), format!("`{key}` is empty")));
        }
    }
    // Events after the cut-off are not in the export, whatever is known elsewhere.
    let known_to = |day: &Option<Spanned<Day>>, key: &str| match day {
        None => Ok(cut_off),
        Some(day) if (data_start..=cut_off).contains(&day.get_ref().0) => Ok(day.get_ref().0),
        Some(day) => {
            let message =
                format!("`known.{key}` lies outside `known.data_start` to `known.cut_off`");
            Err(fault(day.span(), message))
        }
    };
    let horizon = DataHorizon {
        data_start,
        cut_off,
        deaths_known_to: known_to(&file.known.deaths_known_to, "deaths_known_to")?,
        procedures_known_to: known_to(&file.known.procedures_known_to, "procedures_known_to")?,
    };
    let quarter = Quarter::parse(file.report.quarter.get_ref()).ok_or_else(|| {
        fault(
            file.report.quarter.span(),
            "`report.quarter` is no quarter".to_owned(),
        )
        .with_hint("write it as 2025Q3")
    })?;
    if !is_inside(quarter, &horizon) {
        let message =
            "`report.quarter` lies outside the export (`known.data_start` to `known.cut_off`)";
        return Err(fault(file.report.quarter.span(), message.to_owned()));
    }
    let trend_quarters = *file.report.trend_quarters.get_ref();
    if !(1..=80).contains(&trend_quarters) {
        let message = "`report.trend_quarters` must be from 1 to 80".to_owned();
        return Err(fault(file.report.trend_quarters.span(), message));
    }
    let audiences = match &file.report.audiences {
        None => vec![Audience::Clinic],
        Some(list) => audiences(list, &fault)?,
    };
    let style = Style {
        decimal_mark: worded(
            &file.report.decimal_mark,
            "decimal_mark",
            DecimalMark::from_code,
            &fault,
        )?
        .unwrap_or(Style::DEFAULT.decimal_mark),
        date_order: worded(
            &file.report.date_order,
            "date_order",
            DateOrder::from_code,
            &fault,
        )?
        .unwrap_or(Style::DEFAULT.date_order),
    };
    if file.export.file.get_ref().is_empty() {
        return Err(fault(
            file.export.file.span(),
            "`export.file` names no file".to_owned(),
        ));
    }
    let rules = match file.rules {
        None => Rules::default(),
        Some(rules) => {
            let span = rules.span();
            let rules = rules.into_inner();
            rules.check().map_err(|error| {
                fault(
                    key_span(&text, span, error.setting),
                    format!("`rules`: {error}"),
                )
            })?;
            rules
        }
    };
    let measures = match &file.report.measures {
        None => MEASURES.to_vec(),
        Some(list) if list.get_ref().is_empty() => {
            let error = fault(list.span(), "`report.measures` names no measure".to_owned());
            return Err(error.with_hint("leave the key out to report all of them"));
        }
        Some(list) => wanted(list.get_ref(), &fault)?,
    };
    let strata = strata(&file.report.strata, &fault)?;
    Ok(Pipeline {
        layout: named(&file.export.layout),
        files: file
            .export
            .file
            .get_ref()
            .iter()
            .map(|part| InputFile {
                file: named(&part.path),
                role: part.role,
                joined: part.joined.clone(),
                exported: part.exported.map(|day| day.0),
            })
            .collect(),
        title: file.title.into_inner(),
        practice: file.practice.into_inner(),
        horizon,
        quarter,
        trend_quarters,
        audiences,
        has_pdf: file.report.pdf,
        style,
        has_workbook: file.report.workbook,
        tables: data_formats(&file.report.tables, &fault)?,
        measures,
        strata,
        rules,
        folder: file
            .report
            .folder
            .map(|written| without_detours(&folder.join(written))),
        earlier_public: (file.report.earlier_public.iter())
            .map(|written| named(written))
            .collect(),
        name,
        text,
    })
}

/// The same path without `x/..` in it, as a person would write it.
fn without_detours(path: &Path) -> PathBuf {
    let mut plain = PathBuf::new();
    for part in path.components() {
        let can_go_up = matches!(plain.components().next_back(), Some(Component::Normal(_)));
        match part {
            Component::ParentDir if can_go_up => {
                plain.pop();
            }
            other => plain.push(other),
        }
    }
    plain
}

/// A path as it may be shown: as written when relative, its last part when absolute.
fn without_machine_path(written: &str) -> String {
    let path = Path::new(written);
    let last = path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned());
    last.filter(|_| path.is_absolute())
        .unwrap_or_else(|| written.to_owned())
}

/// Makes an error at a place of the pipeline file.
type Fault<'a> = dyn Fn(Range<usize>, String) -> ConfigError + 'a;

/// Where a key is written in the table that begins at `table`; the table's header when it is not found.
fn key_span(text: &str, table: Range<usize>, key: &str) -> Range<usize> {
    let mut start = table.start;
    for line in text
        .get(table.start..)
        .unwrap_or_default()
        .split_inclusive('\n')
    {
        let named = line.trim_start().strip_prefix(key).map(str::trim_start);
        if named.is_some_and(|rest| rest.starts_with('=')) {
            let indent = line.len() - line.trim_start().len();
            return start + indent..start + indent + key.len();
        }
        start += line.len();
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "title = \"Report\"\npractice = \"Made-up\"\n\n[export]\nlayout = \"a.toml\"\n\n[[export.file]]\npath = \"a.csv\"\n\n[known]\ndata_start = 2023-01-01\ncut_off = 2025-12-31\n\n[report]\nquarter = \"2025Q4\"\nmeasures = [\"healed-within-12-weeks\"]\n\n[rules]\nreopening_window_days = 28\n";

    fn refused(text: &str) -> String {
        let file: Result<PipelineFile, ConfigError> = config::parse(text, "p.toml");
        let error = match file {
            Err(error) => error,
            Ok(file) => {
                pipeline(file, "p.toml".into(), text.to_owned(), Path::new("")).unwrap_err()
            }
        };
        config_failure(error).to_string()
    }

    #[test]
    fn a_good_file_is_read() {
        let file: PipelineFile = config::parse(GOOD, "p.toml").unwrap();
        let read = pipeline(file, "p.toml".into(), GOOD.to_owned(), Path::new("here")).unwrap();
        assert_eq!(read.quarter.to_string(), "2025 Q4");
        assert_eq!(read.layout.path, Path::new("here/a.toml"));
        assert_eq!(read.measures.len(), 1);
    }

    #[test]
    fn every_slip_is_refused_with_its_place_and_the_nearest_right_name() {
        for (from, to, wanted) in [
            (
                "\"healed-within-12-weeks\"",
                "\"healed-12wk\"",
                "p.toml:16:13: unknown measure `healed-12wk`\nhint: did you mean `healed-within-12-weeks`?",
            ),
            (
                "reopening_window_days",
                "reopenning_window_days",
                "p.toml:19:1: unknown key `rules.reopenning_window_days`\nhint: did you mean `reopening_window_days`?",
            ),
            (
                "= 28",
                "= 4000",
                "p.toml:19:1: `rules`: `reopening_window_days` must be a number of days from 0 to 3650",
            ),
            (
                "\"2025Q4\"",
                "\"2025Q5\"",
                "p.toml:15:11: `report.quarter` is no quarter\nhint: write it as 2025Q3",
            ),
            (
                "\"2025Q4\"",
                "\"2026Q4\"",
                "p.toml:15:11: `report.quarter` lies outside the export (`known.data_start` to `known.cut_off`)",
            ),
            (
                "2025-12-31",
                "2022-12-31",
                "p.toml:12:11: `known.cut_off` lies before `known.data_start`",
            ),
            (
                "[report]",
                "[report]\naudience = \"clinic\"",
                "p.toml:15:1: unknown key `report.audience`\nhint: did you mean `audiences`?",
            ),
            (
                "[report]",
                "[report]\naudiences = [\"clinic\", \"press\"]",
                "p.toml:15:24: `report.audiences`: `press` is no audience\nhint: audiences are `clinic`, `auditor` and `public`",
            ),
            (
                "[report]",
                "[report]\naudiences = [\"clinic\", \"clinic\"]",
                "p.toml:15:24: `report.audiences` names `clinic` twice",
            ),
            (
                "[report]",
                "[report]\nstrata = [\"site\", \"tear\"]",
                "p.toml:15:19: `report.strata`: `tear` is nothing measures can be split by\nhint: did you mean `tier`?",
            ),
            (
                "[report]",
                "[report]\nstrata = [\"site\", \"site\"]",
                "p.toml:15:19: `report.strata` names `site` twice",
            ),
            (
                "[report]",
                "[report]\ndecimal_mark = \"dot\"",
                "p.toml:15:16: `report.decimal_mark`: `dot` is not known\nhint: write `point` or `comma`",
            ),
            (
                "[report]",
                "[report]\naudiences = []",
                "p.toml:15:13: `report.audiences` names no audience\nhint: leave the key out for a clinic copy alone",
            ),
            (
                "[report]",
                "[report]\ntables = [\"csv\", \"feather\"]",
                "p.toml:15:18: `report.tables`: `feather` is no format of data files\nhint: formats are `csv`, `parquet` and `arrow`",
            ),
        ] {
            assert_eq!(refused(&GOOD.replacen(from, to, 1)), wanted);
        }
    }

    #[test]
    fn a_value_of_the_wrong_type_is_refused_with_its_place() {
        let message = refused(&GOOD.replace("= 28", "= \"28\""));
        assert!(
            message.starts_with("p.toml:19:25: `rules.reopening_window_days`: "),
            "{message}"
        );
    }
}
