//! Load and check, as every command that reads an export does it.

use crate::failure::Failure;
use crate::pipeline::{Pipeline, config_failure, read_text};
use crate::progress::Progress;
use crate::run_folder::sha256;
use intake::{FileDigest, Input, LoadError, layout};
use outcomes::check::check;
use outcomes::derive::in_reading_order;
use outcomes::finding::{FileAccount, Finding, Severity};
use outcomes::tables::Tables;

/// An export that has been loaded and checked.
#[derive(Debug)]
pub(super) struct Export {
    /// The tables, in reading order.
    pub(super) tables: Tables,
    /// Findings of loading and of checking, in the order of files and records.
    pub(super) findings: Vec<Finding>,
    /// What became of every record.
    pub(super) accounts: Vec<FileAccount>,
    /// Digests of the files read.
    pub(super) digests: Vec<FileDigest>,
    /// SHA-256 of the layout file.
    pub(super) layout_sha256: String,
}

/// Reads the layout and loads and checks the export of a pipeline.
pub(super) fn load(pipeline: &Pipeline, progress: &Progress) -> Result<Export, Failure> {
    progress.say("reading the layout");
    let text = read_text(&pipeline.layout.path, "layout")?;
    let layout = layout::parse(&text, &pipeline.layout.written).map_err(config_failure)?;
    let inputs: Vec<Input> = pipeline
        .files
        .iter()
        .map(|input| Input {
            name: input.file.written.clone(),
            path: input.file.path.clone(),
            role: input.role,
        })
        .collect();
    let loaded = intake::load(&inputs, &layout, &pipeline.horizon, &|step| {
        progress.say(format!("reading {}: {} rows", step.file, step.n_records));
    })
    .map_err(load_failure)?;
    progress.say("checking");
    let (tables, found) = check(in_reading_order(loaded.tables));
    let mut findings = loaded.findings;
    findings.extend(found);
    findings.sort_by(|left, right| (left.source, left.check).cmp(&(right.source, right.check)));
    if let Some(account) = loaded
        .accounts
        .iter()
        .find(|account| !account.is_balanced())
    {
        return Err(Failure::CannotRun(format!(
            "{}: rows read are not rows used plus rows set aside; this is a fault of the program, not of the data",
            account.file
        )));
    }
    Ok(Export {
        tables,
        findings,
        accounts: loaded.accounts,
        digests: loaded.digests,
        layout_sha256: sha256(text.as_bytes()),
    })
}

fn load_failure(error: LoadError) -> Failure {
    match error.hint() {
        Some(hint) => Failure::with_hint(error, hint),
        None => Failure::CannotRun(error.to_string()),
    }
}

/// Findings that stop a run, as the failure of a command; `None` when nothing stops it.
pub(super) fn stopped(export: &Export) -> Option<Failure> {
    let stops: Vec<&Finding> = export
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Stop)
        .collect();
    if stops.is_empty() {
        return None;
    }
    let mut words = String::from("the data stopped the run");
    for finding in stops {
        words.push_str(&format!(
            "\n  {}",
            place_and_message(&export.tables, finding)
        ));
    }
    Some(Failure::Data(words))
}

/// A finding in one line: `file, record n, column: message (check)`.
pub(super) fn place_and_message(tables: &Tables, finding: &Finding) -> String {
    let mut line = String::new();
    if let Some(source) = finding.source {
        let file = tables
            .files
            .get(usize::from(source.file))
            .map_or("", |file| file.name.as_str());
        line.push_str(&format!("{file}, record {}", source.record));
    }
    if let Some(column) = &finding.column {
        let comma = if line.is_empty() { "" } else { ", " };
        line.push_str(&format!("{comma}column `{}`", inert(column)));
    }
    let colon = if line.is_empty() { "" } else { ": " };
    line.push_str(&format!("{colon}{} ({})", finding.message, finding.check));
    if let Some(hint) = &finding.hint {
        line.push_str(&format!("; {hint}"));
    }
    line
}

/// A header of an export made harmless for a terminal.
fn inert(text: &str) -> String {
    text.chars()
        .map(|letter| {
            if letter.is_control() {
                '\u{fffd}'
            } else {
                letter
            }
        })
        .take(80)
        .collect()
}
