//! The section of how rows became cohorts: flow, accounts, findings, completeness.

use super::ROWS_STAY;
use super::table::{
    ABSENT, Group, cell, name, numbers, scrolling, stacking, stacking_groups, words,
};
use crate::wording;
use maud::{Markup, html};
use outcomes::disclose::SuppressionLine;
use outcomes::finding::FileAccount;
use outcomes::report::{Audience, FieldCompleteness, FindingTally, FlowStep, Report};
use std::collections::BTreeMap;

/// From rows to cohorts: flow, row accounts, findings, completeness.
pub(crate) fn section(report: &Report) -> Markup {
    if report.audience == Audience::Public {
        return html! {
            section #making aria-labelledby="making-title" {
                h2 #making-title { "How the numbers were made" }
                p { (ROWS_STAY) }
            }
        };
    }
    html! {
        section #making aria-labelledby="making-title" {
            h2 #making-title { "How the numbers were made" }
            h3 { "From rows to cohorts" }
            (flow(&report.flow))
            h3 { "What became of every row" }
            p { "Rows read are rows used plus rows set aside, each with its reason." }
            (accounts(&report.accounts))
            h3 { "What became of every byte" }
            (bytes(&report.accounts))
            @if !report.provenance.accepted_columns.is_empty() {
                h3 { "Columns declared to identify nobody" }
                (accepted(&report.provenance.accepted_columns))
            }
            h3 { "What the checks found" }
            (findings(&report.findings))
            h3 { "How complete the fields are" }
            (completeness(&report.completeness))
            @if !report.suppressions.is_empty() {
                h3 { "What the public copy hides" }
                (suppressions(&report.suppressions))
            }
        }
    }
}

/// Stands above what the public copy hides, on paper too.
pub(crate) const EACH_HIDDEN: &str = "By reason. A number behind a name says how many of its results are hidden; each with its cohort is listed in report.json and in the workbook, without its counts.";

/// What the public copy hides, a group a reason.
fn suppressions(lines: &[SuppressionLine]) -> Markup {
    let groups: Vec<Group> = hidden_by_reason(lines)
        .into_iter()
        .map(|hidden| Group {
            heading: Some(html! { "Why: " (hidden.reason) }),
            rows: (hidden.kinds.into_iter())
                .map(|(what, names)| vec![cell(names), cell(what)])
                .collect(),
        })
        .collect();
    html! {
        p { (EACH_HIDDEN) }
        (stacking_groups(
            "What the public copy hides",
            &[words("Measures, or charts"), words("What of them")],
            &groups,
        ))
    }
}

/// What is hidden for one reason.
pub(crate) struct HiddenFor<'r> {
    /// The reason.
    pub(crate) reason: &'r str,
    /// What kind of thing, and the names of all that are hidden.
    pub(crate) kinds: Vec<(&'r str, String)>,
}

/// Everything hidden, each reason once: a number follows a name of which several results are hidden.
pub(crate) fn hidden_by_reason(lines: &[SuppressionLine]) -> Vec<HiddenFor<'_>> {
    type Names<'r> = BTreeMap<&'r str, u64>;
    let mut tally: BTreeMap<&str, BTreeMap<&str, Names<'_>>> = BTreeMap::new();
    for line in lines {
        let kinds = tally.entry(&line.reason).or_default();
        let names = kinds.entry(&line.what).or_default();
        *names.entry(&line.measure).or_default() += 1;
    }
    let listed = |names: Names<'_>| -> String {
        let said = names.into_iter().map(|(name, n)| match n {
            1 => name.to_owned(),
            _ => format!("{name} ({})", wording::whole(n)),
        });
        said.collect::<Vec<_>>().join(", ")
    };
    tally
        .into_iter()
        .map(|(reason, kinds)| HiddenFor {
            reason,
            kinds: (kinds.into_iter())
                .map(|(what, names)| (what, listed(names)))
                .collect(),
        })
        .collect()
}

/// Indents that the style sheet knows.
const DEEPEST: u8 = 5;

fn flow(steps: &[FlowStep]) -> Markup {
    if steps.is_empty() {
        return html! { p { "Nothing was counted." } };
    }
    let rows: Vec<Vec<Markup>> = steps
        .iter()
        .map(|step| {
            let depth = format!("depth-{}", step.depth.min(DEEPEST));
            vec![
                html! { span class=(depth) { (step.label) } },
                cell(step.n.to_string()),
            ]
        })
        .collect();
    scrolling(
        "From rows to cohorts",
        &[words("Step"), numbers("How many")],
        &rows,
    )
}

fn accounts(accounts: &[FileAccount]) -> Markup {
    if accounts.is_empty() {
        return html! { p { "No file was read." } };
    }
    let rows: Vec<Vec<Markup>> = accounts
        .iter()
        .map(|account| {
            vec![
                cell(&account.file),
                cell(wording::whole(account.n_read)),
                cell(wording::whole(account.n_used)),
                cell(wording::whole(account.n_set_aside())),
                html! {
                    @if account.set_aside.is_empty() { (ABSENT) } @else {
                        ul.plain { @for (check, n) in &account.set_aside { li { (name(check)) " " (wording::whole(*n)) } } }
                    }
                },
                html! { @if account.is_balanced() { "yes" } @else { strong.urgent { "no: rows are missing" } } },
            ]
        })
        .collect();
    let columns = [
        words("File"),
        numbers("Read"),
        numbers("Used"),
        numbers("Set aside"),
        words("Reasons"),
        words("Reconciled"),
    ];
    stacking("What became of every row", &columns, &rows)
}

/// Stands above the bytes of each file, on the page and on paper.
pub(crate) const BYTES_ADD_UP: &str = "Every byte of a file's text is header, row used, row set aside or blank line; a run in \
     which they do not add up stops. A packed file is stored in fewer bytes than its text has.";

/// Stands above the columns that were let through by name.
pub(crate) const DECLARED_COLUMNS: &str = "The screen for identifiers would have stopped at these columns; the layout declares, \
     each with its reason, that they identify nobody. What was found in them stands among the findings.";

/// The bytes of each file's text and what they went to; a packed file is smaller than its text.
fn bytes(accounts: &[FileAccount]) -> Markup {
    let rows: Vec<Vec<Markup>> = accounts
        .iter()
        .map(|account| {
            let text = &account.text_bytes;
            let parts = [
                text.header,
                text.used,
                text.set_aside,
                text.blank,
                text.total(),
            ];
            let mut row = vec![cell(&account.file), cell(wording::whole(account.bytes))];
            row.extend(parts.map(|n| cell(wording::whole(n))));
            row
        })
        .collect();
    let columns = [
        words("File"),
        numbers("Stored"),
        numbers("Header"),
        numbers("Rows used"),
        numbers("Rows set aside"),
        numbers("Blank lines"),
        numbers("Text in all"),
    ];
    html! {
        p { (BYTES_ADD_UP) }
        (stacking("What became of every byte", &columns, &rows))
    }
}

/// Columns that look like identifiers and were let through by name.
fn accepted(columns: &[(String, String)]) -> Markup {
    let rows: Vec<Vec<Markup>> = columns
        .iter()
        .map(|(column, reason)| vec![name(column), cell(reason)])
        .collect();
    html! {
        p { (DECLARED_COLUMNS) }
        (scrolling("Columns declared to identify nobody", &[words("Column"), words("Reason")], &rows))
    }
}

fn findings(tallies: &[FindingTally]) -> Markup {
    if tallies.is_empty() {
        return html! { p { "The checks found nothing." } };
    }
    let rows: Vec<Vec<Markup>> = tallies
        .iter()
        .map(|tally| {
            vec![
                name(&tally.check),
                cell(severity(&tally.severity)),
                cell(&tally.words),
                cell(tally.n.to_string()),
                html! { ul.plain.trace { @for place in &tally.examples { li { (place) } } } },
            ]
        })
        .collect();
    let columns = [
        words("Check"),
        words("Effect"),
        words("What it means"),
        numbers("Times"),
        words("For example"),
    ];
    stacking("What the checks found", &columns, &rows)
}

pub(crate) fn severity(code: &str) -> &str {
    match code {
        "note" => "noted, row used",
        "cell-ignored" => "cell counts as missing",
        "set-aside" => "row set aside",
        "stop" => "stops the run",
        other => other,
    }
}

fn completeness(fields: &[FieldCompleteness]) -> Markup {
    if fields.is_empty() {
        return html! { p { "No field was measured." } };
    }
    let rows: Vec<Vec<Markup>> = fields
        .iter()
        .map(|field| {
            vec![
                name(&format!("{}.{}", field.table, field.field)),
                cell(wording::whole(field.n_present)),
                cell(wording::whole(field.n_rows)),
                html! { (share(field.n_present, field.n_rows)) (bar(field)) },
            ]
        })
        .collect();
    let columns = [
        words("Field"),
        numbers("Recorded"),
        numbers("Rows"),
        numbers("Share"),
    ];
    html! {
        (stacking("How complete the fields are", &columns, &rows))
        @if fields.iter().any(|field| !field.quarters.is_empty()) {
            details { summary { "Completeness by quarter" } (by_quarter(fields)) }
        }
    }
}

/// A share of rows in words; no rows give no share.
pub(crate) fn share(present: u64, rows: u64) -> String {
    if rows == 0 {
        "no rows".to_owned()
    } else {
        wording::percent(present as f64 / rows as f64)
    }
}

/// A bar that repeats the share for the eye alone.
fn bar(field: &FieldCompleteness) -> Markup {
    let width = if field.n_rows == 0 {
        0.0
    } else {
        100.0 * field.n_present as f64 / field.n_rows as f64
    };
    html! { span.bar aria-hidden="true" { span style=(format!("width:{:.0}%", width.clamp(0.0, 100.0))) {} } }
}

/// Every quarter that any field names, in order of first sight, as columns.
fn by_quarter(fields: &[FieldCompleteness]) -> Markup {
    let mut quarters: Vec<&str> = Vec::new();
    for (quarter, _, _) in fields.iter().flat_map(|field| &field.quarters) {
        if !quarters.contains(&quarter.as_str()) {
            quarters.push(quarter);
        }
    }
    let mut columns = vec![words("Field")];
    columns.extend(quarters.iter().map(|quarter| numbers(*quarter)));
    let rows: Vec<Vec<Markup>> = fields
        .iter()
        .map(|field| {
            let mut row = vec![name(&format!("{}.{}", field.table, field.field))];
            row.extend(quarters.iter().map(|quarter| {
                let found = field.quarters.iter().find(|(name, _, _)| name == quarter);
                cell(found.map_or_else(
                    || ABSENT.to_owned(),
                    |(_, present, rows)| share(*present, *rows),
                ))
            }));
            row
        })
        .collect();
    scrolling("Completeness by quarter", &columns, &rows)
}
