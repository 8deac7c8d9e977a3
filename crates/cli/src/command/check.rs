//! `check`: an export's row accounts and findings, without outcomes.

use super::load::{Export, inert, load, place, stopped};
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
    let same_kind = |left: &&Finding, right: &&Finding| {
        (left.check, &left.column) == (right.check, &right.column)
    };
    for group in sorted.chunk_by(same_kind) {
        let first = group[0];
        let column = first.column.as_deref().map_or(String::new(), |column| {
            format!(", column `{}`", inert(column))
        });
        let _ = writeln!(
            text,
            "{:>6} {} ({}{column})",
            group.len(),
            first.check,
            first.severity
        );
        let _ = writeln!(text, "       {}", first.message);
        if let Some(hint) = &first.hint {
            let _ = writeln!(text, "       hint: {hint}");
        }
        let places: Vec<String> = group
            .iter()
            .take(n_places)
            .filter_map(|finding| place(tables, finding))
            .collect();
        if !places.is_empty() {
            let more = if group.len() > places.len() {
                " ..."
            } else {
                ""
            };
            let _ = writeln!(text, "       at {}{more}", places.join("; "));
        }
    }
    if export.findings.is_empty() {
        text.push_str("nothing found\n");
    } else {
        text.push_str("\nRecords are counted from 1; the header is not counted.\n");
    }
    text
}
