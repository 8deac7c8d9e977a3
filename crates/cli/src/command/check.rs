//! `check`: everything about an export without its outcomes, as text, data or a page.

mod earlier;
pub(super) mod page;
mod text;

use super::load::{Export, profiled, stopped};
use super::out;
use crate::arguments::CheckArguments;
use crate::failure::Failure;
use crate::pipeline::{self, Pipeline};
use crate::progress::Progress;
use anyhow::Context as _;
use chrono::{Datelike as _, NaiveDate};
use intake::FileProfile;
use outcomes::check::check_ids;
use outcomes::check::overview::{
    Comparison, FileOverview, Overview, Part, TableLine, check_date_orders, compare_parts,
    compare_with_earlier, grouped,
};
use outcomes::finding::FileAccount;

pub(super) fn check(arguments: &CheckArguments) -> Result<(), Failure> {
    let pipeline = pipeline::read(&arguments.pipeline)?;
    let earlier = arguments
        .earlier
        .as_deref()
        .map(|path| earlier::read(path, &pipeline))
        .transpose()?;
    let since = since(arguments.since, earlier.as_ref(), &pipeline);
    let progress = Progress::start();
    let made = profiled(&pipeline, since, &progress);
    progress.finish();
    let (mut export, profiles) = made?;
    let files = files(&export.accounts, profiles);
    export.findings.extend(check_ids(&export.tables));
    export.findings.extend(check_date_orders(&files));
    let failure = stopped(&export);
    let mut overview = overview(&pipeline, &export, files, arguments.places);
    overview.comparison = comparison(&overview.files, earlier.as_ref(), since);
    overview.stops = failure.iter().flat_map(reasons).collect();
    if let Some(path) = &arguments.html {
        page::write(path, report::check_html(&overview).as_bytes())?;
    }
    if arguments.json {
        out(&report::check_json(&overview).context("the data")?)?;
    } else {
        out(&text::summary(&overview))?;
    }
    failure.map_or(Ok(()), Err)
}

/// The day that divides an export: as asked, or the first of the month after the earlier export, or the reporting quarter's.
fn since(
    asked: Option<NaiveDate>,
    earlier: Option<&earlier::Earlier>,
    pipeline: &Pipeline,
) -> NaiveDate {
    asked
        .or_else(|| earlier.and_then(earlier::Earlier::next_month))
        .unwrap_or_else(|| pipeline.quarter.start())
}

fn comparison(
    files: &[FileOverview],
    earlier: Option<&earlier::Earlier>,
    since: NaiveDate,
) -> Option<Comparison> {
    let day = outcomes::report::words::date(since);
    let has_new = files.iter().any(|file| file.since.n_rows > 0);
    let Some(earlier) = earlier else {
        let has_both = has_new && files.iter().any(|file| file.before.n_rows > 0);
        return has_both.then(|| {
            compare_parts(
                files,
                &format!("the rows before {day}"),
                &format!("the rows from {day} on"),
            )
        });
    };
    let (part, later) = if has_new {
        (Part::Since, format!("the rows from {day} on"))
    } else {
        (Part::Whole, "all rows of this export".to_owned())
    };
    Some(compare_with_earlier(
        &earlier.files,
        files,
        part,
        &format!("the earlier export {}", earlier.name),
        &later,
    ))
}

/// What is known of an export, but for the comparison.
fn overview(
    pipeline: &Pipeline,
    export: &Export,
    files: Vec<FileOverview>,
    n_places: usize,
) -> Overview {
    Overview {
        program: super::PROGRAM.to_owned(),
        practice: pipeline.practice.clone(),
        layout: pipeline.layout.written.clone(),
        data_start: pipeline.horizon.data_start,
        cut_off: pipeline.horizon.cut_off,
        dates: export.dates.clone(),
        stops: Vec::new(),
        tables: (export.recount.tables.iter())
            .map(|table| TableLine {
                table: table.table.to_owned(),
                n_rows: table.n_rows,
                n_persons: table.n_persons,
            })
            .collect(),
        files,
        findings: grouped(&export.tables, &export.findings, n_places),
        comparison: None,
    }
}

fn files(accounts: &[FileAccount], profiles: Vec<FileProfile>) -> Vec<FileOverview> {
    accounts
        .iter()
        .zip(profiles)
        .map(|(account, profile)| FileOverview {
            file: account.file.clone(),
            role: profile.role.to_owned(),
            bytes: account.bytes,
            text_bytes: account.text_bytes,
            n_read: account.n_read,
            n_used: account.n_used,
            set_aside: account.set_aside.clone(),
            months: profile.months,
            before: profile.before,
            since: profile.since,
            columns: profile.columns,
        })
        .collect()
}

/// The lines of a failure, without the words that introduce them.
fn reasons(failure: &Failure) -> Vec<String> {
    let words = failure.to_string();
    let lines: Vec<String> = words
        .lines()
        .skip(1)
        .map(|line| line.trim().to_owned())
        .collect();
    if lines.is_empty() { vec![words] } else { lines }
}

/// The first day of the month after a month written `2025-03`.
fn month_after(month: &str) -> Option<NaiveDate> {
    let first: NaiveDate = format!("{month}-01").parse().ok()?;
    let next = first.checked_add_months(chrono::Months::new(1))?;
    next.with_day(1)
}
