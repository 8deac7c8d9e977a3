//! The sections for researchers: who was followed, reporting statements.

use super::table::{Column, Group, cell, numbers, scrolling_groups, stacking_groups, words};
use maud::{Markup, html};
use outcomes::report::{ChecklistItem, CohortTable, Report};

/// What the tables are, on paper too.
pub(crate) const COHORT_WORDS: &str = "Ulcers first seen here and the people who had them, as they were at the first visit, by the calendar year of that visit. Differences between years are not tested: they describe who came.";
pub(crate) const STATEMENT_WORDS: &str = "What STROBE (von Elm et al., PLoS Med 2007;4:e296) and RECORD (Benchimol et al., PLoS Med 2015;12:e1001885) ask for, in our words, and where this report answers it. Items that only people can answer say so.";

/// What a researcher asks of a report: who was followed, and where the reporting statements are answered. Nothing in a copy
/// that has neither.
pub(crate) fn section(report: &Report) -> Markup {
    let has_cohort = !report.cohort_table.groups.is_empty();
    html! {
        @if has_cohort || !report.checklist.is_empty() {
            section #research aria-labelledby="research-title" {
                h2 #research-title { "For researchers" }
                @if has_cohort {
                    h3 { "Who was followed" }
                    p { (COHORT_WORDS) }
                    (cohort(&report.cohort_table))
                }
                @if !report.checklist.is_empty() {
                    h3 { "Reporting statements" }
                    p { (STATEMENT_WORDS) }
                    (checklist(&report.checklist))
                }
            }
        }
    }
}

fn cohort(table: &CohortTable) -> Markup {
    let mut columns: Vec<Column> = vec![words("Characteristic")];
    columns.extend(table.columns.iter().map(|column| numbers(column.as_str())));
    let groups: Vec<Group> = table
        .groups
        .iter()
        .map(|group| Group {
            heading: Some(html! { (group.title) " (" (group.of) ")" }),
            rows: group
                .rows
                .iter()
                .map(|row| {
                    std::iter::once(cell(&row.label))
                        .chain(row.cells.iter().map(|found| cell(&found.words)))
                        .collect()
                })
                .collect(),
        })
        .collect();
    scrolling_groups("Who was followed", &columns, &groups)
}

fn checklist(items: &[ChecklistItem]) -> Markup {
    let groups: Vec<Group> = items
        .chunk_by(|left, right| left.statement == right.statement)
        .map(|items| Group {
            heading: items.first().map(|first| html! { (first.statement) }),
            rows: items.iter().map(item).collect(),
        })
        .collect();
    let columns = [words("Item"), words("Asks for"), words("Where")];
    stacking_groups("Reporting statements", &columns, &groups)
}

fn item(item: &ChecklistItem) -> Vec<Markup> {
    vec![
        cell(&item.item),
        cell(&item.asks),
        html! { (item.answer) @if item.is_for_people { " " strong { "for people" } } },
    ]
}
