//! Load and check, as every command that reads an export does it.

use crate::failure::Failure;
use crate::inert::for_terminal;
use crate::pipeline::{Pipeline, config_failure, read_text};
use crate::progress::Progress;
use crate::run_folder::sha256;
use chrono::NaiveDate;
use intake::{FileDigest, FileProfile, Input, Layout, LoadError, Recount, Role, layout, recount};
use outcomes::check::{check, check_ends};
use outcomes::derive::in_reading_order;
use outcomes::finding::{FileAccount, Finding, Severity};
use outcomes::measure::SplitBy;
use outcomes::rules::{DataHorizon, DeclaredDates, label_quarters_as_shifted};
use outcomes::tables::Tables;
use std::collections::BTreeMap;

/// An export that has been loaded and checked.
#[derive(Debug)]
pub(super) struct Export {
    /// The tables, in reading order.
    pub(super) tables: Tables,
    /// Findings of loading and of checking, in the order of files and records.
    pub(super) findings: Vec<Finding>,
    /// What became of every record.
    pub(super) accounts: Vec<FileAccount>,
    /// Counts and completeness, made on a path of their own.
    pub(super) recount: Recount,
    /// Digests of the files read.
    pub(super) digests: Vec<FileDigest>,
    /// Columns the layout declares to identify nobody, with its reasons.
    pub(super) accepted: BTreeMap<String, String>,
    /// What the layout declares the dates to be.
    pub(super) dates: DeclaredDates,
    /// The part of the declared horizon that the export covers for everybody.
    pub(super) horizon: DataHorizon,
    /// SHA-256 of the layout file.
    pub(super) layout_sha256: String,
}

/// Reads the layout and loads and checks the export of a pipeline.
pub(super) fn load(pipeline: &Pipeline, progress: &Progress) -> Result<Export, Failure> {
    Ok(load_as(pipeline, None, progress)?.0)
}

/// The same, with what the cells of each column come to, before and from a day on.
pub(super) fn profiled(
    pipeline: &Pipeline,
    since: NaiveDate,
    progress: &Progress,
) -> Result<(Export, Vec<FileProfile>), Failure> {
    load_as(pipeline, Some(since), progress)
}

fn load_as(
    pipeline: &Pipeline,
    since: Option<NaiveDate>,
    progress: &Progress,
) -> Result<(Export, Vec<FileProfile>), Failure> {
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
            joined: input.joined.clone(),
            exported: input.exported,
        })
        .collect();
    let certain = certain_horizon(&layout, pipeline)?;
    refuse_missing_roles(&layout, &inputs)?;
    refuse_unknown_strata(&layout, pipeline)?;
    let say = |step: intake::Progress<'_>| {
        progress.say(format!("reading {}: {} rows", step.file, step.n_records));
    };
    let horizon = &pipeline.horizon;
    let (loaded, profiles) = match since {
        Some(since) => intake::load_with_profile(&inputs, &layout, horizon, since, &say),
        None => intake::load(&inputs, &layout, horizon, &say).map(|loaded| (loaded, Vec::new())),
    }
    .map_err(load_failure)?;
    progress.say("counting again");
    let recount = recount(&loaded.tables)
        .map_err(|error| program_fault(&format!("the recount failed: {error}")))?;
    if let Some(difference) = disagreement(&loaded.tables, &loaded.accounts, &recount) {
        return Err(program_fault(&difference));
    }
    progress.say("checking");
    let tables = in_reading_order(loaded.tables);
    let (tables, found) = if layout.dates.is_year_only() {
        // whatever two rows of a year say of each other needs their order
        (tables, Vec::new())
    } else {
        check(tables)
    };
    let mut findings = loaded.findings;
    findings.extend(found);
    if !layout.dates.is_year_only() {
        findings.extend(check_ends(&tables, &certain));
    }
    findings.sort_by(|left, right| (left.source, left.check).cmp(&(right.source, right.check)));
    if let Some(account) = loaded
        .accounts
        .iter()
        .find(|account| !account.is_balanced())
    {
        return Err(program_fault(&format!(
            "{}: rows read are not rows used plus rows set aside",
            account.file
        )));
    }
    let export = Export {
        tables,
        findings,
        accounts: loaded.accounts,
        recount,
        digests: loaded.digests,
        accepted: (layout.accepted().into_iter())
            .map(|(column, reason)| (column.to_owned(), reason.to_owned()))
            .collect(),
        dates: layout.dates.clone(),
        horizon: certain,
        layout_sha256: sha256(text.as_bytes()),
    };
    Ok((export, profiles))
}

/// What the export holds for everybody, and the labels of quarters, as the declared dates have it.
fn certain_horizon(layout: &Layout, pipeline: &Pipeline) -> Result<DataHorizon, Failure> {
    let certain = layout.dates.certain(&pipeline.horizon);
    if certain.data_start >= certain.cut_off {
        return Err(Failure::with_hint(
            "dates shifted so far leave no days that the export holds for everybody",
            "carry the true quarter in a column of the export and name it as `visit.quarter`, or shift by fewer days",
        ));
    }
    if layout.dates.has_shifted_quarters() {
        label_quarters_as_shifted();
    }
    Ok(certain)
}

/// A kind of file that is not given must not read as "nothing of the kind happened".
fn refuse_missing_roles(layout: &Layout, inputs: &[Input]) -> Result<(), Failure> {
    let roles = layout.roles();
    let is_given = |role: &Role| {
        inputs
            .iter()
            .filter(|input| input.joined.is_none())
            .any(|input| input.role.is_none() || input.role == Some(*role))
    };
    let missing: Vec<&str> = roles
        .iter()
        .filter(|role| !is_given(role))
        .map(|role| role.code())
        .collect();
    if missing.is_empty() {
        return Ok(());
    }
    Err(Failure::with_hint(
        format!(
            "the layout also reads files of {}, and none is given",
            missing.join(", ")
        ),
        "add them under [[export.file]]; a file with a header and no rows says that there were none",
    ))
}

/// A grouping that the layout does not read would split nothing.
fn refuse_unknown_strata(layout: &Layout, pipeline: &Pipeline) -> Result<(), Failure> {
    let known = layout.strata();
    let unknown = pipeline.strata.iter().find_map(|by| match by {
        SplitBy::Named(name) if !known.contains(&name.as_str()) => Some(name),
        _ => None,
    });
    unknown.map_or(Ok(()), |name| {
        let hint = if known.is_empty() {
            "the layout names no grouping under [strata]".to_owned()
        } else {
            format!("the layout names {} under [strata]", known.join(", "))
        };
        Err(Failure::with_hint(
            format!("`report.strata` names `strata.{name}`, which the layout does not read"),
            hint,
        ))
    })
}

fn program_fault(fact: &str) -> Failure {
    Failure::CannotRun(format!(
        "{fact}; this is a fault of the program, not of the data"
    ))
}

/// Where the recount, made on a path of its own, and the loader's accounts differ.
fn disagreement(tables: &Tables, accounts: &[FileAccount], recount: &Recount) -> Option<String> {
    let loaded = [
        ("patients", tables.patients.len()),
        ("visits", tables.visits.len()),
        ("foot_exams", tables.foot_exams.len()),
        ("ulcer_observations", tables.ulcer_observations.len()),
        ("events", tables.events.len()),
    ];
    let rows = loaded.iter().find_map(|(table, n_rows)| {
        let again = recount.tables.iter().find(|count| count.table == *table)?;
        (again.n_rows != *n_rows as u64).then(|| {
            format!(
                "{n_rows} rows of {table} were loaded and {} counted again",
                again.n_rows
            )
        })
    });
    let records = recount
        .files
        .iter()
        .zip(accounts)
        .find_map(|(again, account)| {
            (again.n_records > account.n_used).then(|| {
                format!(
                    "{}: {} records used and {} counted again",
                    account.file, account.n_used, again.n_records
                )
            })
        });
    rows.or(records)
}

pub(super) fn load_failure(error: LoadError) -> Failure {
    match error.hint() {
        Some(hint) => Failure::with_hint(error, hint),
        None => Failure::CannotRun(error.to_string()),
    }
}

/// What stops a run, as the failure of a command: findings that say so, or no row that could be used.
pub(super) fn stopped(export: &Export) -> Option<Failure> {
    if export.accounts.iter().all(|account| account.n_used == 0) {
        let reasons = export
            .accounts
            .iter()
            .flat_map(|account| &account.set_aside);
        let most = reasons.max_by_key(|(_, n)| *n);
        let why = most.map_or("the export holds no rows".to_owned(), |(reason, n)| {
            format!("most often: {reason} ({n} rows)")
        });
        return Some(Failure::Data(format!("no row could be used; {why}")));
    }
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

/// Where a finding is: `visits.csv, record 12`; `None` when it concerns no single row.
pub(super) fn place(tables: &Tables, finding: &Finding) -> Option<String> {
    let source = finding.source?;
    let file = tables.files.get(usize::from(source.file))?;
    Some(format!("{}, record {}", file.name, source.record))
}

/// A finding in one line: `file, record n, column: message (check); hint`.
fn place_and_message(tables: &Tables, finding: &Finding) -> String {
    let column = finding
        .column
        .as_deref()
        .map(|column| format!("column `{}`", for_terminal(column)));
    let at: Vec<String> = place(tables, finding).into_iter().chain(column).collect();
    let colon = if at.is_empty() { "" } else { ": " };
    let hint = finding
        .hint
        .as_deref()
        .map_or(String::new(), |hint| format!("; {hint}"));
    format!(
        "{}{colon}{} ({}){hint}",
        at.join(", "),
        finding.message,
        finding.check
    )
}
