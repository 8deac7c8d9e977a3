use super::ROWS_STAY;
use super::table::{ABSENT, cell, name, numbers, scrolling, stacking, words};
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

/// How many results of each measure the public copy hides, by reason; the whole list is in the data.
fn suppressions(lines: &[SuppressionLine]) -> Markup {
    let rows: Vec<Vec<Markup>> = tally(lines)
        .into_iter()
        .map(|((measure, what, reason), n)| {
            vec![
                cell(measure),
                cell(what),
                cell(reason),
                cell(wording::whole(n)),
            ]
        })
        .collect();
    html! {
        p { "Each hidden result with its cohort is listed in report.json, without its counts." }
        (scrolling(
            "What the public copy hides",
            &[words("Measure or chart"), words("What"), words("Why"), numbers("How many")],
            &rows,
        ))
    }
}

/// How many results of a measure or chart are hidden, by what they are and why.
pub(crate) fn tally(lines: &[SuppressionLine]) -> BTreeMap<(&str, &str, &str), u64> {
    let mut tally = BTreeMap::new();
    for line in lines {
        let key = (
            line.measure.as_str(),
            line.what.as_str(),
            line.reason.as_str(),
        );
        *tally.entry(key).or_default() += 1;
    }
    tally
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
