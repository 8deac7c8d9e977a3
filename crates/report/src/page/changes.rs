//! The section of what changed since the last report.

use super::anchors::Anchors;
use super::table::{cell, numbers, scrolling, stacking, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::words::value_with_counts;
use outcomes::report::{ChangedResult, Changes, Report};

/// Lines shown at once; the rest is a click away.
const LINES_SHOWN: usize = 12;

/// Headings and words that paper has too.
pub(crate) const CHANGED: &str = "What changed since the last report, and why";
pub(crate) const RESTATED_WORDS: &str =
    "Each had a value in the earlier report and has another now.";
pub(crate) const GIVEN_OR_NOT: &str = "Figures that could not be given then, or cannot be now";

/// What became of the figures of an earlier report, and why.
pub(crate) fn section(report: &Report, changes: &Changes, anchors: &Anchors) -> Markup {
    html! {
        section #changes aria-labelledby="changes-title" {
            h2 #changes-title { (CHANGED) }
            ul.sentences { @for sentence in &changes.sentences { li { (sentence) } } }
            @if !changes.differences.is_empty() {
                h3 { "What is different between the two runs" }
                ul { @for difference in &changes.differences { li { (difference) } } }
            }
            @if !changes.counts.is_empty() { (counts(changes)) }
            @if !changes.restatements.is_empty() {
                h3 { "Restated figures" }
                p { (RESTATED_WORDS) }
                (results("Restated figures", report, &changes.restatements, anchors))
            }
            @if !changes.others.is_empty() {
                h3 { (GIVEN_OR_NOT) }
                (results(GIVEN_OR_NOT, report, &changes.others, anchors))
            }
        }
    }
}

fn counts(changes: &Changes) -> Markup {
    let rows: Vec<Vec<Markup>> = changes
        .counts
        .iter()
        .map(|count| {
            vec![
                cell(&count.measure),
                cell(&count.causes),
                cell(count.n_restated.to_string()),
                cell(count.n_new.to_string()),
                cell(count.n_gone.to_string()),
            ]
        })
        .collect();
    let columns = [
        words("Measure"),
        words("Why"),
        numbers("Restated"),
        numbers("Given now"),
        numbers("Not given any more"),
    ];
    html! {
        h3 { "Changed figures by measure and cause" }
        (scrolling("Changed figures by measure and cause", &columns, &rows))
    }
}

fn results(caption: &str, report: &Report, changed: &[ChangedResult], anchors: &Anchors) -> Markup {
    let rows: Vec<Vec<Markup>> = changed
        .iter()
        .map(|changed| row(report, changed, anchors))
        .collect();
    let (first, further) = rows.split_at(rows.len().min(LINES_SHOWN));
    let columns = [
        words("Measure"),
        words("Cohort"),
        words("Then"),
        words("Now"),
        words("Why"),
    ];
    html! {
        (stacking(caption, &columns, first))
        @if !further.is_empty() {
            details.further {
                summary { "Further figures (" (further.len()) ")" }
                (stacking(&format!("{caption}, further"), &columns, further))
            }
        }
    }
}

fn row(report: &Report, changed: &ChangedResult, anchors: &Anchors) -> Vec<Markup> {
    let before = &changed.before;
    let causes: Vec<&str> = changed.causes.iter().map(|cause| cause.code()).collect();
    vec![
        html! {
            @if let Some(anchor) = anchors.of_measure(report, &before.measure) { a href=(format!("#{anchor}")) { (before.measure) } }
            @else { (before.measure) }
        },
        cell(wording::of_stratum(&before.period, &before.stratum)),
        cell(value_with_counts(before)),
        cell(wording::value_now(changed.after.as_ref())),
        cell(causes.join(", ")),
    ]
}
