//! `compare`: what two runs say of the same figures, and why they differ.

use super::load::{Export, load, stopped};
use super::since::{by_print, run_of, since};
use super::{out, say};
use crate::arguments::CompareArguments;
use crate::earlier_run::EarlierRun;
use crate::failure::Failure;
use crate::pipeline::{self, Pipeline};
use crate::progress::Progress;
use outcomes::report::{ChangedResult, Changes, words};
use std::fmt::Write as _;
use std::path::Path;

pub(super) fn compare(arguments: &CompareArguments) -> Result<(), Failure> {
    let earlier = EarlierRun::read(&arguments.earlier)?;
    let later = EarlierRun::read(&arguments.later)?;
    let progress = Progress::start();
    let made = changes(arguments, &earlier, &later, &progress);
    progress.finish();
    let changes = made?;
    if arguments.json {
        let text = serde_json::to_string_pretty(&changes).map_err(anyhow::Error::from)?;
        out(&(text + "\n"))?;
    } else {
        out(&in_words(&changes))?;
    }
    if arguments.later_pipeline.is_none() && !changes.restatements.is_empty() {
        say(
            "with --later-pipeline the export is read again and each change is put down to data, settings or program",
        );
    }
    Ok(())
}

fn changes(
    arguments: &CompareArguments,
    earlier: &EarlierRun,
    later: &EarlierRun,
    progress: &Progress,
) -> Result<Changes, Failure> {
    let Some(path) = &arguments.later_pipeline else {
        return by_print(earlier, later);
    };
    let new = of_run(path, later, progress)?;
    let old = arguments.earlier_pipeline.as_ref();
    let old = old
        .map(|path| of_run(path, earlier, progress))
        .transpose()?;
    since(
        earlier,
        old.as_ref().map(|(pipeline, export)| (pipeline, export)),
        (&new.0, &new.1),
    )
}

/// The pipeline and the export of a run, which must still be those of the run.
fn of_run(
    path: &Path,
    run: &EarlierRun,
    progress: &Progress,
) -> Result<(Pipeline, Export), Failure> {
    let pipeline = pipeline::read(path)?;
    let export = load(&pipeline, progress)?;
    if let Some(failure) = stopped(&export) {
        return Err(failure);
    }
    let (then, now) = (run.run()?, run_of((&pipeline, &export)));
    if !then.reads_as(&now) || then.rules != now.rules || then.horizon != now.horizon {
        return Err(Failure::with_hint(
            format!(
                "{} does not read what the run in {} was made from",
                path.display(),
                run.place.display()
            ),
            format!(
                "`limbledger verify {} --pipeline {}` says what differs",
                run.place.display(),
                path.display()
            ),
        ));
    }
    Ok((pipeline, export))
}

fn in_words(changes: &Changes) -> String {
    let mut text = String::new();
    for sentence in changes.sentences.iter().chain(&changes.differences) {
        let _ = writeln!(text, "{sentence}");
    }
    for (title, results) in [
        ("Restated", &changes.restatements),
        ("Given or not", &changes.others),
    ] {
        if !results.is_empty() {
            let _ = writeln!(text, "\n{title}");
        }
        for result in results {
            let _ = writeln!(text, "  {}", line(result));
        }
    }
    text
}

fn line(changed: &ChangedResult) -> String {
    let before = &changed.before;
    let stratum = match before.stratum.as_str() {
        "all" => String::new(),
        other => format!(", {other}"),
    };
    let causes: Vec<&str> = changed.causes.iter().map(|cause| cause.code()).collect();
    format!(
        "{}, {}{stratum}: {} -> {} [{}]",
        before.measure,
        before.period,
        words::value_with_counts(before),
        changed
            .after
            .as_ref()
            .map_or("not made any more".to_owned(), words::value_with_counts),
        causes.join(", ")
    )
}
