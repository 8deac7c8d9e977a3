//! `trace`: from a figure of a report to the people behind it, and to the rows of the export that told of them.

use super::load::{load, stopped};
use super::{out, say};
use crate::arguments::TraceArguments;
use crate::earlier_run::{EarlierManifest, EarlierRun};
use crate::failure::Failure;
use crate::inert::for_terminal;
use crate::pipeline;
use crate::progress::Progress;
use crate::trace_file::{Row, TRACE, decode, row};
use intake::config::nearest;
use outcomes::derive::derive;
use outcomes::measure::{
    Cohort, MEASURES, Measure, Part, Study, TracedFigure, find_measure, places, tally_parts, trace,
};
use outcomes::report::{Audience, Count, MeasureResult, words};
use outcomes::rules::Quarter;
use serde::Serialize;

/// One figure and the subjects behind it.
#[derive(Debug, Serialize)]
struct Traced<'a> {
    measure: &'a str,
    period: String,
    stratum: &'a str,
    numerator: u64,
    denominator: u64,
    n_unknown: u64,
    /// What the report printed, if it printed this figure.
    printed: Option<&'a MeasureResult>,
    subjects: Vec<Subject<'a>>,
}

/// One subject and its part in the figure.
#[derive(Debug, Serialize)]
struct Subject<'a> {
    part: Part,
    #[serde(flatten)]
    row: &'a Row,
    began_in: Option<&'a str>,
    outcome_in: Option<&'a str>,
}

pub(super) fn trace_figure(arguments: &TraceArguments) -> Result<(), Failure> {
    let measure = measure_of(&arguments.measure)?;
    let cohort = cohort(arguments)?;
    let run = EarlierRun::read(&arguments.run)?;
    let (_, printed) = run.printed()?;
    let own: Vec<&MeasureResult> = printed
        .iter()
        .filter(|result| result.measure == measure.id)
        .collect();
    let cohort = cohort.or_else(|| own.first().and_then(|first| Cohort::parse(&first.period)));
    let Some(cohort) = cohort else {
        return Err(Failure::with_hint(
            format!("the report holds no figure of `{}`", measure.id),
            "the measure was not among those of the run",
        ));
    };
    let rows = match &arguments.pipeline {
        None => kept_rows(&run, measure)?,
        Some(path) => fresh_rows(&run, measure, path)?,
    };
    let is_inside = |row: &&Row| {
        let quarter = Quarter::parse(&row.quarter);
        quarter.is_some_and(|quarter| cohort.first <= quarter && quarter <= cohort.last)
    };
    let rows: Vec<&Row> = rows.iter().filter(is_inside).collect();
    if let Some(words) = &arguments.stratum {
        split_is_not_traced(&run, measure, &rows, words)?;
    }
    let place = place_of(measure, &rows, arguments.stratum.as_deref())?;
    let period = cohort.label();
    let printed = own
        .into_iter()
        .find(|result| result.period == period && place.is_worded(&result.stratum));
    let traced = traced(measure, &place, &period, printed, &rows, &run.manifest);
    if arguments.json {
        let text = serde_json::to_string_pretty(&traced).map_err(anyhow::Error::from)?;
        out(&(text + "\n"))?;
    } else {
        out(&table(&traced, arguments.only))?;
    }
    say(&summary(&traced));
    match disagreement(&traced) {
        None => Ok(()),
        Some(words) => Err(Failure::Data(words)),
    }
}

fn measure_of(id: &str) -> Result<&'static Measure, Failure> {
    find_measure(id).ok_or_else(|| {
        let near = nearest(id, MEASURES.iter().map(|measure| measure.id));
        Failure::with_hint(
            format!("unknown measure `{}`", for_terminal(id)),
            near.map_or_else(
                || "`limbledger list measures` shows what there is".to_owned(),
                |near| format!("did you mean `{near}`?"),
            ),
        )
    })
}

fn cohort(arguments: &TraceArguments) -> Result<Option<Cohort>, Failure> {
    let read = |text: &String| {
        Quarter::parse(text).ok_or_else(|| {
            Failure::with_hint(
                format!("`{}` is no quarter", for_terminal(text)),
                "write it as 2025Q3",
            )
        })
    };
    let first = arguments.quarter.as_ref().map(read).transpose()?;
    let last = arguments.last_quarter.as_ref().map(read).transpose()?;
    let Some(first) = first else { return Ok(None) };
    let last = last.unwrap_or(first);
    if last < first {
        return Err(Failure::with_hint(
            format!("{last} lies before {first}"),
            "name the first quarter, then the last",
        ));
    }
    Ok(Some(Cohort { first, last }))
}

/// Rows that the run itself wrote down.
fn kept_rows(run: &EarlierRun, measure: &Measure) -> Result<Vec<Row>, Failure> {
    let path = run.place.join(Audience::Auditor.code()).join(TRACE);
    let bytes = std::fs::read(&path).map_err(|error| {
        Failure::with_hint(
            format!("{}: {}", path.display(), error.kind()),
            "a run with an auditor's copy writes it; otherwise name the pipeline file with --pipeline, and the export is read again",
        )
    })?;
    decode(&bytes, measure.id).map_err(|why| {
        Failure::with_hint(format!("{}: {why}", path.display()), "make the run again")
    })
}

/// Rows made again from the export, which must be the export of the run, under the settings of the run.
fn fresh_rows(
    run: &EarlierRun,
    measure: &'static Measure,
    path: &std::path::Path,
) -> Result<Vec<Row>, Failure> {
    let pipeline = pipeline::read(path)?;
    let progress = Progress::start();
    let export = load(&pipeline, &progress);
    progress.finish();
    let export = export?;
    if let Some(failure) = stopped(&export) {
        return Err(failure);
    }
    if export.dates.is_year_only() {
        return Err(Failure::CannotRun(
            "the export tells years only, so that its figures are not traced person by person"
                .to_owned(),
        ));
    }
    let then = run.run()?;
    let read: Vec<&String> = export.digests.iter().map(|digest| &digest.sha256).collect();
    if !read.into_iter().eq(&then.inputs_sha256) || export.layout_sha256 != then.layout_sha256 {
        return Err(Failure::with_hint(
            "the export or its layout was changed since the run",
            "name a pipeline file that reads the files of then; `limbledger verify` says which differ",
        ));
    }
    let people = derive(&export.tables, &then.rules, &then.horizon);
    let study = Study {
        people: &people,
        rules: &then.rules,
        horizon: &then.horizon,
    };
    let lines = trace(&[measure], &study);
    Ok(lines.iter().map(|line| row(line, &export.tables)).collect())
}

/// The trace follows a measure's own strata. A site, a clinician or whatever else the pipeline file splits by is refused by its
/// name, and where it bears the name of one of the measure's own, what that name means here is said.
fn split_is_not_traced(
    run: &EarlierRun,
    measure: &Measure,
    rows: &[&Row],
    words: &str,
) -> Result<(), Failure> {
    let splits = run.printed_splits()?;
    let is_it = |result: &MeasureResult| result.measure == measure.id && result.stratum == words;
    let Some(split) = splits.iter().find(|split| split.results.iter().any(is_it)) else {
        return Ok(());
    };
    let title = for_terminal(&split.title);
    if place_of(measure, rows, Some(words)).is_ok() {
        let of = for_terminal(words);
        say(&format!(
            "note: `{of}` is here the measure's own figure; the one of that name in the table `{title}` is another and is not traced"
        ));
        return Ok(());
    }
    Err(Failure::with_hint(
        format!("the strata of the table `{title}` are not traced"),
        "trace the figure of all together; the export tells of each person which stratum it is in",
    ))
}

/// The figure asked for among those of the measure; that of everybody unless one is named.
fn place_of(
    measure: &Measure,
    rows: &[&Row],
    wanted: Option<&str>,
) -> Result<TracedFigure, Failure> {
    let mut strata: Vec<String> = rows.iter().map(|row| row.stratum.clone()).collect();
    strata.sort_unstable();
    strata.dedup();
    let all = places(measure, &strata);
    let found = match wanted {
        None => all.first().cloned(),
        Some(words) => all.iter().find(|place| place.is_worded(words)).cloned(),
    };
    found.ok_or_else(|| {
        let known: Vec<String> = all
            .iter()
            .map(|place| format!("`{}`", place.words))
            .collect();
        Failure::with_hint(
            format!("`{}` has no such stratum", measure.id),
            format!("strata are {}", known.join(", ")),
        )
    })
}

fn traced<'a>(
    measure: &'a Measure,
    place: &'a TracedFigure,
    period: &str,
    printed: Option<&'a MeasureResult>,
    rows: &[&'a Row],
    manifest: &'a EarlierManifest,
) -> Traced<'a> {
    let file = |number: Option<u32>| {
        let position = usize::try_from(number?.checked_sub(1)?).ok()?;
        manifest
            .inputs
            .get(position)
            .map(|input| input.file.as_str())
    };
    let subjects: Vec<Subject<'a>> = rows
        .iter()
        .map(|row| Subject {
            part: place.part(
                measure,
                &row.stratum,
                &row.outcome,
                row.day,
                row.expected.is_some(),
            ),
            row,
            began_in: file(row.began_file),
            outcome_in: file(row.outcome_file),
        })
        .filter(|subject| subject.part != Part::Outside)
        .collect();
    let [numerator, denominator, n_unknown] = tally_parts(
        measure,
        printed.map(|printed| &printed.value),
        subjects.iter().map(|subject| subject.part),
    );
    Traced {
        measure: measure.id,
        period: period.to_owned(),
        stratum: &place.words,
        numerator,
        denominator,
        n_unknown,
        printed,
        subjects,
    }
}

/// A line a subject, as tab-separated columns: part, person, where it began, what became of it and where that stands.
fn table(traced: &Traced<'_>, only: Option<Part>) -> String {
    let place = |date: Option<chrono::NaiveDate>, file: Option<&str>, record: Option<u32>| match (
        date, file, record,
    ) {
        (Some(date), Some(file), Some(record)) => {
            format!("{date} {}, record {record}", for_terminal(file))
        }
        (Some(date), _, _) => date.to_string(),
        _ => "-".to_owned(),
    };
    let mut text = String::from("part\tpatient\tbegan\tday\toutcome\ttold by\n");
    for subject in traced
        .subjects
        .iter()
        .filter(|subject| only.is_none_or(|only| only == subject.part))
    {
        let row = subject.row;
        let cells = [
            subject.part.to_string(),
            for_terminal(&row.patient),
            place(row.began, subject.began_in, row.began_record),
            row.day.map_or("-".to_owned(), |day| day.to_string()),
            row.outcome.clone(),
            place(row.outcome_date, subject.outcome_in, row.outcome_record),
        ];
        text.push_str(&cells.join("\t"));
        text.push('\n');
    }
    text
}

fn summary(traced: &Traced<'_>) -> String {
    let stratum = match traced.stratum {
        "all" => String::new(),
        other => format!(", {other}"),
    };
    format!(
        "{}, {}{stratum}: {} in the numerator, {} in the denominator, {} unknown; the report says {}",
        traced.measure,
        traced.period,
        traced.numerator,
        traced.denominator,
        traced.n_unknown,
        traced
            .printed
            .map_or_else(|| "nothing of this cohort".to_owned(), words::value)
    )
}

/// Where the counts of the trace and those of the report differ; a count that the report does not print says nothing.
fn disagreement(traced: &Traced<'_>) -> Option<String> {
    let printed = traced.printed?;
    let counts = [
        ("numerator", printed.numerator, traced.numerator),
        ("denominator", printed.denominator, traced.denominator),
        ("unknown outcomes", printed.n_unknown, traced.n_unknown),
    ];
    counts
        .into_iter()
        .find_map(|(what, said, found)| match said {
            Some(Count::Shown(said)) if said != found => Some(format!(
                "the report says {said} for the {what}, and the trace leads to {found}"
            )),
            _ => None,
        })
}
