//! `check`: an export's row accounts and findings, without outcomes.

use super::load::{Export, load, place_and_message, stopped};
use super::out;
use crate::arguments::CheckArguments;
use crate::failure::Failure;
use crate::pipeline;
use crate::progress::Progress;
use outcomes::finding::Finding;
use std::fmt::Write as _;

pub(super) fn check(arguments: &CheckArguments) -> Result<(), Failure> {
    let pipeline = pipeline::read(&arguments.pipeline)?;
    let progress = Progress::start();
    let export = load(&pipeline, &progress);
    progress.finish();
    let export = export?;
    out(&summary(&export, arguments.places))?;
    match stopped(&export) {
        Some(failure) => Err(failure),
        None => Ok(()),
    }
}

fn summary(export: &Export, n_places: usize) -> String {
    let mut text = String::new();
    for account in &export.accounts {
        let _ = writeln!(
            text,
            "{}: {} rows read = {} used + {} set aside",
            account.file,
            account.n_read,
            account.n_used,
            account.n_set_aside()
        );
        for (reason, n) in &account.set_aside {
            let _ = writeln!(text, "  set aside: {n} {reason}");
        }
    }
    let tables = &export.tables;
    let _ = writeln!(
        text,
        "{} people, {} visits, {} foot examinations, {} ulcer observations, {} events\n",
        tables.patients.len(),
        tables.visits.len(),
        tables.foot_exams.len(),
        tables.ulcer_observations.len(),
        tables.events.len()
    );
    let mut sorted: Vec<&Finding> = export.findings.iter().collect();
    sorted.sort_by(|left, right| {
        (left.severity, left.check, &left.column, left.source).cmp(&(
            right.severity,
            right.check,
            &right.column,
            right.source,
        ))
    });
    for group in
        sorted.chunk_by(|left, right| (left.check, &left.column) == (right.check, &right.column))
    {
        let column = group[0]
            .column
            .as_deref()
            .map_or(String::new(), |column| format!(", column `{column}`"));
        let _ = writeln!(
            text,
            "{:>6} {} ({}{column})",
            group.len(),
            group[0].check,
            group[0].severity
        );
        for finding in group.iter().take(n_places) {
            let _ = writeln!(text, "         {}", place_and_message(tables, finding));
        }
    }
    if export.findings.is_empty() {
        text.push_str("nothing found\n");
    }
    text
}
