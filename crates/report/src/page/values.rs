//! Values of a measure as tables: newest cohorts first, earlier ones a click away.

use super::front::fraction;
use super::table::{ABSENT, Column, Group, cell, numbers, stacking_groups, values, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::{Interval, MeasureResult, MeasureSheet, Split, Value};
use std::collections::BTreeSet;

/// Rows shown at once; earlier cohorts are a click away.
const ROWS_SHOWN: usize = 8;

/// The value tables of one measure: the newest cohorts, the others behind a click, and how intervals were made.
pub(crate) fn tables(measure: &MeasureSheet) -> Markup {
    let kinds = interval_kinds(&measure.results);
    let columns = columns(&measure.results, &kinds);
    let headings: Vec<Column> = columns.iter().map(|(_, heading)| heading.clone()).collect();
    let (recent, earlier) = measure.results.split_at(n_shown(&measure.results));
    let title = &measure.title;
    html! {
        @if measure.results.is_empty() {
            p { "No cohort of this measure falls into this report." }
        } @else {
            (stacking_groups(title, &headings, &groups(recent, &columns)))
        }
        @if !earlier.is_empty() {
            details.earlier {
                summary { "Earlier and other cohorts (" (earlier.len()) ")" }
                (stacking_groups(&format!("{title}, earlier and other cohorts"), &headings, &groups(earlier, &columns)))
            }
        }
        @if let Some(kind) = the_only(&kinds) { p.note { "Intervals: " (kind) "." } }
    }
}

/// The tables of a measure by stratum, behind a click.
pub(crate) fn splits(measure: &MeasureSheet, is_open: bool) -> Markup {
    let titles: Vec<String> = measure
        .splits
        .iter()
        .map(|split| split.title.to_lowercase())
        .collect();
    let cohort = measure
        .splits
        .first()
        .and_then(|split| split.results.first())
        .map_or("", |result| &result.cohort);
    html! {
        @if !measure.splits.is_empty() {
            details.earlier open[is_open] {
                summary { (capitalised(&titles.join("; "))) }
                p.note {
                    "Of " (cohort) ". Strata differ in whom they treat and small ones move by chance; nobody is ranked."
                }
                @for split in &measure.splits { (split_table(&measure.title, split)) }
            }
        }
    }
}

fn split_table(title: &str, split: &Split) -> Markup {
    let kinds = interval_kinds(&split.results);
    let mut columns = columns(&split.results, &kinds);
    if let Some((_, heading)) = columns.first_mut() {
        *heading = words(&split.title);
    }
    let headings: Vec<Column> = columns.iter().map(|(_, heading)| heading.clone()).collect();
    let rows = split
        .results
        .iter()
        .map(|result| row(result, &columns, true));
    let group = Group {
        heading: None,
        rows: rows.collect(),
    };
    html! {
        (stacking_groups(&format!("{title}: {}", split.title.to_lowercase()), &headings, &[group]))
        p.note {
            "Stratum: " (split.words) "."
            @if let Some(kind) = the_only(&kinds) { " Intervals: " (kind) "." }
        }
    }
}

/// The words with a capital first letter.
pub(crate) fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// How many results stand in the first table: whole cohorts as long as they fit, at least a part of the first.
fn n_shown(results: &[MeasureResult]) -> usize {
    let mut n_shown = 0;
    for cohort in cohorts(results) {
        if n_shown + cohort.len() > ROWS_SHOWN {
            break;
        }
        n_shown += cohort.len();
    }
    if n_shown == 0 {
        results.len().min(ROWS_SHOWN)
    } else {
        n_shown
    }
}

/// Neighbouring results of one cohort, which differ in their stratum.
fn cohorts(results: &[MeasureResult]) -> impl Iterator<Item = &[MeasureResult]> {
    results.chunk_by(|left, right| left.cohort == right.cohort)
}

/// A cohort with several strata heads its rows; any other is a row of its own.
fn groups(results: &[MeasureResult], columns: &[(Part, Column)]) -> Vec<Group> {
    cohorts(results)
        .map(|cohort| {
            let heading = match cohort {
                [first, _, ..] => Some(html! { (first.cohort) }),
                _ => None,
            };
            let is_headed = heading.is_some();
            let rows = cohort
                .iter()
                .map(|result| row(result, columns, is_headed))
                .collect();
            Group { heading, rows }
        })
        .collect()
}

/// What a column of the value table says.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Cohort,
    Value,
    Limits { with_kind: bool },
    People,
    Unknown,
    Bounds,
}

/// Columns that at least one result fills. The level stands in the heading when all intervals share their kind.
fn columns(results: &[MeasureResult], kinds: &BTreeSet<String>) -> Vec<(Part, Column)> {
    let mut columns = vec![
        (Part::Cohort, words("Cohort")),
        (Part::Value, values("Value")),
    ];
    let has_limits = results
        .iter()
        .any(|result| wording::value_limits(&result.value, result.unit).is_some());
    if has_limits {
        let with_kind = kinds.len() > 1;
        columns.push((Part::Limits { with_kind }, values("Interval")));
    }
    if results.iter().any(|result| fraction(result).is_some()) {
        columns.push((Part::People, numbers("Count")));
    }
    if results.iter().any(|result| result.n_unknown.is_some()) {
        columns.push((Part::Unknown, numbers("Outcome unknown")));
    }
    if results.iter().any(|result| result.bounds.is_some()) {
        columns.push((Part::Bounds, numbers("Lowest to highest possible")));
    }
    columns
}

/// Level and method of every interval, each once.
pub(crate) fn interval_kinds(results: &[MeasureResult]) -> BTreeSet<String> {
    results
        .iter()
        .filter_map(interval)
        .map(wording::interval_kind)
        .collect()
}

fn the_only(kinds: &BTreeSet<String>) -> Option<&String> {
    kinds.first().filter(|_| kinds.len() == 1)
}

/// The interval of a known value.
pub(crate) fn interval(result: &MeasureResult) -> Option<&Interval> {
    match &result.value {
        Value::Known(estimate) => estimate.interval.as_ref(),
        _ => None,
    }
}

fn row(result: &MeasureResult, columns: &[(Part, Column)], is_headed: bool) -> Vec<Markup> {
    let dash = || ABSENT.to_owned();
    columns
        .iter()
        .map(|(part, _)| match part {
            Part::Cohort => html! {
                @if is_headed { (result.stratum) }
                @else { (wording::of_stratum(&result.cohort, &result.stratum)) }
                @for note in &result.notes { span.remark { (note) } }
            },
            Part::Value => html! { b { (wording::value(&result.value, result.unit)) } },
            Part::Limits { with_kind } => html! {
                (wording::value_limits(&result.value, result.unit).unwrap_or_else(dash))
                @if let Some(interval) = interval(result).filter(|_| *with_kind) {
                    " (" (wording::interval_kind(interval)) ")"
                }
            },
            Part::People => cell(fraction(result).unwrap_or_else(dash)),
            Part::Unknown => cell(result.n_unknown.map_or_else(dash, |n| n.to_string())),
            Part::Bounds => cell(bounds(result).unwrap_or_else(dash)),
        })
        .collect()
}

/// The lowest to the highest result that the unknown outcomes could give.
pub(crate) fn bounds(result: &MeasureResult) -> Option<String> {
    let bounds = result.bounds?;
    let say = |value| wording::number(result.unit, value);
    Some(format!("{} to {}", say(bounds.lowest), say(bounds.highest)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use outcomes::report::Unit;

    fn result(cohort: &str, stratum: &str) -> MeasureResult {
        MeasureResult {
            measure: "healed".to_owned(),
            cohort: cohort.to_owned(),
            period: "2025 Q1".to_owned(),
            stratum: stratum.to_owned(),
            unit: Unit::Share,
            value: Value::Suppressed,
            numerator: None,
            denominator: None,
            n_unknown: None,
            bounds: None,
            notes: Vec::new(),
        }
    }

    #[test]
    fn a_cohort_is_not_torn_between_the_two_tables() {
        let mut results: Vec<_> = (0..6)
            .map(|n| result("2025 Q2", &format!("tier {n}")))
            .collect();
        results.extend((0..6).map(|n| result("2025 Q1", &format!("tier {n}"))));
        assert_eq!(n_shown(&results), 6);
        let long: Vec<_> = (0..30)
            .map(|n| result("2025 Q2", &format!("site {n}")))
            .collect();
        assert_eq!(n_shown(&long), ROWS_SHOWN);
        let single: Vec<_> = (0..12)
            .map(|n| result(&format!("quarter {n}"), "all"))
            .collect();
        assert_eq!(n_shown(&single), ROWS_SHOWN);
        assert_eq!(n_shown(&[]), 0);
    }

    #[test]
    fn only_a_cohort_with_several_strata_has_a_heading() {
        let results = [
            result("2025 Q2", "all"),
            result("2025 Q2", "severe"),
            result("2025 Q1", "all"),
        ];
        let columns = columns(&results, &BTreeSet::new());
        let found: Vec<_> = groups(&results, &columns)
            .iter()
            .map(|group| (group.heading.is_some(), group.rows.len()))
            .collect();
        assert_eq!(found, [(true, 2), (false, 1)]);
    }
}
