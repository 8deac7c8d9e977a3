//! `run`: from a pipeline file to a published run folder.

use super::data_files::write_data;
use super::findings_file::{FINDINGS, findings_file};
use super::load::{Export, load, stopped};
use super::manifest::{manifest, provenance};
use super::since::since;
use super::{out, say};
use crate::arguments::RunArguments;
use crate::earlier_run::EarlierRun;
use crate::failure::Failure;
use crate::pipeline::{self, Named, Pipeline};
use crate::progress::Progress;
use crate::run_folder::{MANIFEST, RunFolder};
use crate::trace_file::{Row, TRACE, encode, row};
use anyhow::Context as _;
use outcomes::analyse::{Material, analyse_copies};
use outcomes::check::CHECKS;
use outcomes::derive::{PersonOutcomes, derive};
use outcomes::disclose::EarlierPublicReport;
use outcomes::extract::row_tables;
use outcomes::finding::FileAccount;
use outcomes::measure::{Study, trace};
use outcomes::report::{Audience, Changes, Report};
use outcomes::rules::Quarter;
use std::panic::resume_unwind;
use std::path::{Path, PathBuf};

pub(super) fn run(arguments: &RunArguments) -> Result<(), Failure> {
    let mut pipeline = pipeline::read(&arguments.pipeline)?;
    if let Some(quarter) = &arguments.quarter {
        pipeline.quarter = Quarter::parse(quarter).ok_or_else(|| {
            Failure::with_hint(
                format!("--quarter: `{quarter}` is no quarter"),
                "write it as 2025Q3",
            )
        })?;
        pipeline.refuse_quarter_outside()?;
    }
    let place = run_place(&pipeline, arguments.out.as_deref())?;
    let earlier = arguments.compare_with.as_deref();
    refuse_own_inputs(&pipeline, earlier, &place)?;
    let earlier = earlier.map(EarlierRun::read).transpose()?;
    let progress = Progress::start();
    let done = publish(&pipeline, &place, earlier.as_ref(), &progress);
    progress.finish();
    let words = done?;
    say(&words);
    out(&format!("{}\n", place.display()))
}

fn run_place(pipeline: &Pipeline, out: Option<&Path>) -> Result<PathBuf, Failure> {
    out.map(Path::to_owned)
        .or_else(|| pipeline.folder.clone())
        .ok_or_else(|| {
            Failure::with_hint(
                format!("{}: no run folder is named", pipeline.name),
                "add `folder` under [report], or give --out",
            )
        })
}

/// A run folder is replaced as a whole, so nothing a run reads may lie in it.
fn refuse_own_inputs(
    pipeline: &Pipeline,
    earlier: Option<&Path>,
    place: &Path,
) -> Result<(), Failure> {
    let Ok(place) = place.canonicalize() else {
        return Ok(());
    };
    let inputs = pipeline
        .files
        .iter()
        .map(|input| &input.file)
        .chain([&pipeline.layout])
        .chain(&pipeline.earlier_public)
        .map(|input| (input.written.clone(), input.path.as_path()))
        .chain(earlier.map(|run| (run.display().to_string(), run)));
    let inside = inputs
        .filter_map(|(written, path)| Some((written, path.canonicalize().ok()?)))
        .find(|(_, path)| path.starts_with(&place));
    inside.map_or(Ok(()), |(written, _)| {
        Err(Failure::with_hint(
            format!("{written} lies inside the run folder, which is replaced as a whole"),
            "name another folder with --out",
        ))
    })
}

/// Everything between the pipeline and the published folder; gives the words to say at the end.
fn publish(
    pipeline: &Pipeline,
    place: &Path,
    earlier: Option<&EarlierRun>,
    progress: &Progress,
) -> Result<String, Failure> {
    let export = load(pipeline, progress)?;
    if let Some(failure) = stopped(&export) {
        return Err(failure);
    }
    let mut folder = RunFolder::begin(place)?;
    progress.say("deriving and measuring");
    let public_before = earlier_public(pipeline)?;
    let people = derive(&export.tables, &pipeline.rules, &export.horizon);
    let mut reports = make_reports(pipeline, &export, &people, &public_before);
    if let Some(earlier) = earlier {
        progress.say("comparing with the earlier run");
        let changes = since(earlier, None, (pipeline, &export))?;
        tell_changes(&mut reports, &changes);
    }
    let rows = if pipeline.tables.is_empty() || export.dates.is_year_only() {
        Vec::new()
    } else {
        row_tables(&export.tables, &people, &pipeline.rules, &export.findings)
    };
    progress.say("drawing");
    for (report, files) in reports.iter().zip(draw_copies(&reports, &export, pipeline)) {
        for (name, bytes) in files? {
            folder.write(&format!("{}/{name}", report.audience.code()), &bytes)?;
        }
        write_data(&mut folder, report, &rows, pipeline)?;
    }
    if pipeline.audiences.contains(&Audience::Auditor) && !export.dates.is_year_only() {
        let name = format!("{}/{TRACE}", Audience::Auditor.code());
        folder.write(&name, &trace_csv(pipeline, &export, &people)?)?;
    }
    let manifest = manifest(pipeline, &export, folder.outputs());
    let mut manifest = serde_json::to_vec_pretty(&manifest).context(MANIFEST)?;
    manifest.push(b'\n');
    folder.write(MANIFEST, &manifest)?;
    folder.publish()?;
    Ok(last_words(&export, &reports))
}

/// What became of an earlier report's figures, for the copies that stay inside: a difference of two reports shows small counts.
fn tell_changes(reports: &mut [Report], changes: &Changes) {
    for report in reports {
        if report.audience != Audience::Public {
            report.changes = Some(changes.clone());
        }
    }
}

fn trace_csv(
    pipeline: &Pipeline,
    export: &Export,
    people: &[PersonOutcomes<'_>],
) -> anyhow::Result<Vec<u8>> {
    let study = Study {
        people,
        rules: &pipeline.rules,
        horizon: &export.horizon,
    };
    let lines = trace(&pipeline.measures, &study);
    let rows: Vec<Row> = lines.iter().map(|line| row(line, &export.tables)).collect();
    encode(&rows)
}

/// A file of a copy: its name and bytes.
type Drawn = (&'static str, Vec<u8>);

/// Room for what sets pages, which calls itself as deep as the report nests: that of a program's first thread, doubled.
const STACK_BYTES: usize = 16 << 20;

/// The files of each copy, in the order of the reports, drawn side by side.
fn draw_copies(
    reports: &[Report],
    export: &Export,
    pipeline: &Pipeline,
) -> Vec<anyhow::Result<Vec<Drawn>>> {
    std::thread::scope(|scope| {
        let copies: Vec<_> = (reports.iter())
            .map(|report| {
                std::thread::Builder::new()
                    .stack_size(STACK_BYTES)
                    .spawn_scoped(scope, || draw_copy(report, export, pipeline))
            })
            .collect();
        (copies.into_iter())
            .map(|copy| copy?.join().unwrap_or_else(|panic| resume_unwind(panic)))
            .collect()
    })
}

/// One audience's folder, which can be handed out whole: nothing in it needs a file outside it.
fn draw_copy(report: &Report, export: &Export, pipeline: &Pipeline) -> anyhow::Result<Vec<Drawn>> {
    let json = report::json(report).context("report.json")?;
    let html = report::html(report).context("report.html")?;
    let mut files = vec![
        ("report.json", json.into_bytes()),
        ("report.html", html.into_bytes()),
    ];
    if pipeline.has_workbook {
        files.push((
            "report.xlsx",
            report::workbook(report).context("report.xlsx")?,
        ));
    }
    if pipeline.has_pdf {
        files.push(("report.pdf", report::pdf(report).context("report.pdf")?));
    }
    if report.audience != Audience::Public {
        files.push((FINDINGS, findings_file(export)?));
    }
    Ok(files)
}

/// Public reports handed out earlier, whose numbers the new public copy must not complete.
fn earlier_public(pipeline: &Pipeline) -> Result<Vec<EarlierPublicReport>, Failure> {
    let read = |input: &Named| {
        let path = if input.path.is_dir() {
            input.path.join("report.json")
        } else {
            input.path.clone()
        };
        let fault = |why: &str| {
            Failure::with_hint(
                format!("{}: {why}", input.written),
                "`report.earlier_public` names public folders of earlier runs, or their report.json",
            )
        };
        let text = std::fs::read(&path).map_err(|error| fault(&error.to_string()))?;
        serde_json::from_slice(&text).map_err(|_| fault("is no public report.json"))
    };
    pipeline.earlier_public.iter().map(read).collect()
}

fn make_reports(
    pipeline: &Pipeline,
    export: &Export,
    people: &[PersonOutcomes<'_>],
    earlier: &[EarlierPublicReport],
) -> Vec<Report> {
    let check_words: Vec<(&str, &str)> = CHECKS
        .iter()
        .map(|check| (check.name, check.words))
        .collect();
    let material = Material {
        title: &pipeline.title,
        practice: &pipeline.practice,
        audience: Audience::Clinic,
        quarter: pipeline.quarter,
        trend_quarters: pipeline.trend_quarters,
        measures: &pipeline.measures,
        strata: &pipeline.strata,
        tables: &export.tables,
        people,
        rules: &pipeline.rules,
        horizon: &export.horizon,
        dates: &export.dates,
        findings: &export.findings,
        check_words: &check_words,
        accounts: &export.accounts,
        completeness: &export.recount.completeness,
        provenance: &provenance(pipeline, export),
    };
    analyse_copies(&material, &pipeline.audiences, earlier)
}

fn last_words(export: &Export, reports: &[Report]) -> String {
    let sum = |pick: fn(&FileAccount) -> u64| export.accounts.iter().map(pick).sum::<u64>();
    let mut words = format!(
        "{} rows read = {} used + {} set aside; {} findings",
        sum(|account| account.n_read),
        sum(|account| account.n_used),
        sum(FileAccount::n_set_aside),
        export.findings.iter().map(|finding| finding.n).sum::<u64>(),
    );
    for report in reports {
        words.push_str(&match report.audience {
            Audience::Clinic => format!(
                "; {} entries on the action list of the clinic copy",
                report.action_list.len()
            ),
            other => format!("; {} copy", other.code()),
        });
    }
    words
}
