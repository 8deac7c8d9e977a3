//! `verify`: whether a run folder still holds what its manifest says, and whether it still fits its pipeline file.

use super::PROGRAM;
use super::{out, say};
use crate::arguments::VerifyArguments;
use crate::earlier_run::{EarlierManifest, EarlierRun, digest_of, inside};
use crate::failure::Failure;
use crate::inert::for_terminal;
use crate::pipeline::{self, Pipeline};
use crate::run_folder::{MANIFEST, names_below, sha256};
use outcomes::rules::{Quarter, Rules, SETTINGS};
use std::path::Path;

/// What was looked at and what was found.
#[derive(Debug, Default)]
struct Found {
    lines: Vec<String>,
    n_faults: usize,
}

impl Found {
    fn good(&mut self, line: impl Into<String>) {
        self.lines.push(line.into());
    }

    fn fault(&mut self, line: impl AsRef<str>) {
        self.lines.push(format!("DIFFERS  {}", line.as_ref()));
        self.n_faults += 1;
    }
}

pub(super) fn verify(arguments: &VerifyArguments) -> Result<(), Failure> {
    let run = EarlierRun::read(&arguments.run)?;
    let mut found = Found::default();
    check_outputs(&run, &mut found);
    check_program(&run.manifest, &mut found);
    if let Some(path) = &arguments.pipeline {
        let pipeline = pipeline::read(path)?;
        check_files(&run.manifest, &pipeline, &mut found);
        check_settings(&run.manifest, &pipeline, &mut found);
    }
    found.good(format!(
        "{MANIFEST} itself: SHA-256 {}; nothing else vouches for it, so keep this number elsewhere",
        run.manifest_sha256
    ));
    out(&(found.lines.join("\n") + "\n"))?;
    if arguments.pipeline.is_none() {
        say("inputs and settings were not looked at: name the pipeline file with --pipeline");
    }
    if found.n_faults == 0 {
        return Ok(());
    }
    Err(Failure::Data(format!(
        "{} of what was looked at differ from the manifest",
        found.n_faults
    )))
}

fn check_outputs(run: &EarlierRun, found: &mut Found) {
    let mut n_same = 0;
    for output in &run.manifest.outputs {
        let name = for_terminal(&output.name);
        let Some(path) = inside(&run.place, &output.name) else {
            found.fault(format!(
                "{name}: the manifest names a file outside the run folder"
            ));
            continue;
        };
        match digest_of(&path) {
            Ok((bytes, sha256)) if (bytes, &sha256) == (output.bytes, &output.sha256) => {
                n_same += 1
            }
            Ok((bytes, _)) if bytes == output.bytes => {
                found.fault(format!("{name}: other content of the same length"));
            }
            Ok((bytes, _)) => {
                found.fault(format!("{name}: {} bytes then, {bytes} now", output.bytes));
            }
            Err(error) => found.fault(format!("{name}: {}", error.kind())),
        }
    }
    for name in names_below(&run.place).unwrap_or_default() {
        let is_known = name == MANIFEST
            || run
                .manifest
                .outputs
                .iter()
                .any(|output| output.name == name);
        if !is_known {
            found.fault(format!(
                "{}: not among the outputs of the run",
                for_terminal(&name)
            ));
        }
    }
    found.good(format!(
        "{n_same} of {} outputs are as the run wrote them",
        run.manifest.outputs.len()
    ));
}

/// Another version is worth knowing and no fault of the folder.
fn check_program(manifest: &EarlierManifest, found: &mut Found) {
    let made_by = for_terminal(&manifest.program);
    found.good(if manifest.program == PROGRAM {
        format!("made by {made_by}, which this is")
    } else {
        format!("made by {made_by}; this is {PROGRAM}, which may compute otherwise")
    });
}

fn check_files(manifest: &EarlierManifest, pipeline: &Pipeline, found: &mut Found) {
    if sha256(pipeline.text.as_bytes()) == manifest.pipeline.sha256 {
        found.good("the pipeline file is the one of the run");
    } else {
        found.fault(format!(
            "{}: the pipeline file was changed since",
            pipeline.name
        ));
    }
    check_file(
        "layout",
        &pipeline.layout.path,
        &pipeline.layout.written,
        &manifest.layout.sha256,
        found,
    );
    if manifest.inputs.len() != pipeline.files.len() {
        found.fault(format!(
            "{} export files then, {} named now",
            manifest.inputs.len(),
            pipeline.files.len()
        ));
    }
    for input in &manifest.inputs {
        let now = pipeline
            .files
            .iter()
            .find(|now| now.file.written == input.file);
        match now {
            Some(now) => check_file("export", &now.file.path, &input.file, &input.sha256, found),
            None => found.fault(format!(
                "{}: the pipeline file does not name it",
                for_terminal(&input.file)
            )),
        }
    }
}

fn check_file(role: &str, path: &Path, name: &str, wanted: &str, found: &mut Found) {
    let name = for_terminal(name);
    match digest_of(path) {
        Ok((_, sha256)) if sha256 == wanted => {
            found.good(format!("{role} {name}: the file of the run"))
        }
        Ok(_) => found.fault(format!("{role} {name}: the file was changed since")),
        Err(error) => found.fault(format!("{role} {name}: {}", error.kind())),
    }
}

fn check_settings(manifest: &EarlierManifest, pipeline: &Pipeline, found: &mut Found) {
    let mut n_other = 0;
    let mut other = |name: &str, then: String, now: String| {
        if then != now {
            n_other += 1;
            found.fault(format!("{name}: {then} then, {now} now"));
        }
    };
    let horizon = &pipeline.horizon;
    for (name, then, now) in [
        ("known.data_start", manifest.data_start, horizon.data_start),
        ("known.cut_off", manifest.cut_off, horizon.cut_off),
        (
            "known.deaths_known_to",
            manifest.deaths_known_to,
            horizon.deaths_known_to,
        ),
        (
            "known.procedures_known_to",
            manifest.procedures_known_to,
            horizon.procedures_known_to,
        ),
    ] {
        other(name, then.to_string(), now.to_string());
    }
    // A run may have been asked for another quarter than the file names, so only a quarter that cannot be read is a fault.
    if Quarter::parse(&manifest.quarter).is_none() {
        other(
            "report.quarter",
            "unreadable".to_owned(),
            pipeline.quarter.to_string(),
        );
    }
    for setting in SETTINGS {
        let value = |rules: &Rules| (setting.value)(rules);
        other(
            &format!("rules.{}", setting.name),
            value(&manifest.rules),
            value(&pipeline.rules),
        );
    }
    if n_other == 0 {
        found.good("settings and known dates are those of the run");
    }
}
