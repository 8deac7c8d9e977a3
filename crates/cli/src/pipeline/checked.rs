//! From the shape of a pipeline file to a pipeline whose every value has been judged.

use super::asked::{audiences, data_formats, measures, strata, worded};
use super::file::{Day, KnownPart, PipelineFile, ReportPart};
use super::{Fault, InputFile, Named, Pipeline, is_inside};
use intake::config::ConfigError;
use outcomes::measure::MEASURES;
use outcomes::report::{Audience, DateOrder, DecimalMark, Style};
use outcomes::rules::{DataHorizon, Quarter, Rules};
use std::ops::Range;
use std::path::{Component, Path, PathBuf};
use toml::Spanned;

/// The pipeline that a file describes, its paths taken from `folder`.
///
/// # Errors
/// The first value that cannot be meant, with its place in `text`.
pub(super) fn pipeline(
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
    let horizon = horizon(&file.known, &fault)?;
    for (text, key) in [(&file.title, "title"), (&file.practice, "practice")] {
        if text.get_ref().trim().is_empty() {
            return Err(fault(text.span(), format!("`{key}` is empty")));
        }
    }
    let report = &file.report;
    let quarter = quarter(report, &horizon, &fault)?;
    let trend_quarters = trend_quarters(report, &fault)?;
    let audiences = match &report.audiences {
        None => vec![Audience::Clinic],
        Some(list) => audiences(list, &fault)?,
    };
    let style = style(report, &fault)?;
    if file.export.file.get_ref().is_empty() {
        return Err(fault(
            file.export.file.span(),
            "`export.file` names no file".to_owned(),
        ));
    }
    let rules = rules(file.rules, &text, &fault)?;
    let measures = match &report.measures {
        None => MEASURES.to_vec(),
        Some(list) => measures(list, &fault)?,
    };
    let strata = strata(&report.strata, &fault)?;
    let tables = data_formats(&report.tables, &fault)?;
    let files = file.export.file.get_ref().iter().map(|part| InputFile {
        file: named(&part.path),
        role: part.role,
        joined: part.joined.clone(),
        exported: part.exported.map(|day| day.0),
    });
    let run_folder = report.folder.as_ref();
    let earlier_public = report.earlier_public.iter();
    Ok(Pipeline {
        layout: named(&file.export.layout),
        files: files.collect(),
        horizon,
        quarter,
        trend_quarters,
        audiences,
        has_pdf: report.pdf,
        style,
        has_workbook: report.workbook,
        tables,
        measures,
        strata,
        rules,
        folder: run_folder.map(|written| without_detours(&folder.join(written))),
        earlier_public: earlier_public.map(|written| named(written)).collect(),
        title: file.title.into_inner(),
        practice: file.practice.into_inner(),
        name,
        text,
    })
}

/// What the export can know. Events after the cut-off are not in the export, whatever is known elsewhere.
fn horizon(known: &KnownPart, fault: &Fault<'_>) -> Result<DataHorizon, ConfigError> {
    let cut_off = known.cut_off.get_ref().0;
    let data_start = known.data_start.0;
    if cut_off < data_start {
        return Err(fault(
            known.cut_off.span(),
            "`known.cut_off` lies before `known.data_start`".to_owned(),
        ));
    }
    let known_to = |day: &Option<Spanned<Day>>, key: &str| match day {
        None => Ok(cut_off),
        Some(day) if (data_start..=cut_off).contains(&day.get_ref().0) => Ok(day.get_ref().0),
        Some(day) => {
            let message =
                format!("`known.{key}` lies outside `known.data_start` to `known.cut_off`");
            Err(fault(day.span(), message))
        }
    };
    Ok(DataHorizon {
        data_start,
        cut_off,
        deaths_known_to: known_to(&known.deaths_known_to, "deaths_known_to")?,
        procedures_known_to: known_to(&known.procedures_known_to, "procedures_known_to")?,
    })
}

fn quarter(
    report: &ReportPart,
    horizon: &DataHorizon,
    fault: &Fault<'_>,
) -> Result<Quarter, ConfigError> {
    let written = &report.quarter;
    let quarter = Quarter::parse(written.get_ref()).ok_or_else(|| {
        let message = "`report.quarter` is no quarter".to_owned();
        fault(written.span(), message).with_hint("write it as 2025Q3")
    })?;
    if !is_inside(quarter, horizon) {
        let message =
            "`report.quarter` lies outside the export (`known.data_start` to `known.cut_off`)";
        return Err(fault(written.span(), message.to_owned()));
    }
    Ok(quarter)
}

/// Quarters of the longest trend: twenty years.
const LONGEST_TREND: u32 = 80;

fn trend_quarters(report: &ReportPart, fault: &Fault<'_>) -> Result<u32, ConfigError> {
    let written = &report.trend_quarters;
    if !(1..=LONGEST_TREND).contains(written.get_ref()) {
        let message = format!("`report.trend_quarters` must be from 1 to {LONGEST_TREND}");
        return Err(fault(written.span(), message));
    }
    Ok(*written.get_ref())
}

fn style(report: &ReportPart, fault: &Fault<'_>) -> Result<Style, ConfigError> {
    let decimal_mark = worded(
        &report.decimal_mark,
        "decimal_mark",
        DecimalMark::from_code,
        fault,
    )?;
    let date_order = worded(
        &report.date_order,
        "date_order",
        DateOrder::from_code,
        fault,
    )?;
    Ok(Style {
        decimal_mark: decimal_mark.unwrap_or(Style::DEFAULT.decimal_mark),
        date_order: date_order.unwrap_or(Style::DEFAULT.date_order),
    })
}

fn rules(
    written: Option<Spanned<Rules>>,
    text: &str,
    fault: &Fault<'_>,
) -> Result<Rules, ConfigError> {
    let Some(written) = written else {
        return Ok(Rules::default());
    };
    let span = written.span();
    let rules = written.into_inner();
    rules.check().map_err(|error| {
        fault(
            key_span(text, span, error.setting),
            format!("`rules`: {error}"),
        )
    })?;
    Ok(rules)
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
    use crate::pipeline::config_failure;
    use intake::config;

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
