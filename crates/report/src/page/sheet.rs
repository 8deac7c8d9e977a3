use super::front::fraction;
use super::table::{ABSENT, Column, cell, numbers, stacking, values, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::{Audience, Interval, MeasureResult, MeasureSheet, Value};

/// Rows shown at once; earlier cohorts are a click away.
const ROWS_SHOWN: usize = 8;

/// One measure: what it came to, then what it means.
pub(crate) fn sheet(measure: &MeasureSheet, anchor: &str, audience: Audience) -> Markup {
    let columns = columns(&measure.results);
    let rows: Vec<Vec<Markup>> = measure
        .results
        .iter()
        .map(|result| row(result, &columns))
        .collect();
    let headings: Vec<Column> = columns.iter().map(|(_, heading)| heading.clone()).collect();
    let recent = rows.get(..ROWS_SHOWN).unwrap_or(&rows);
    let earlier = rows.get(ROWS_SHOWN..).unwrap_or_default();
    html! {
        article.sheet id=(anchor) {
            h3 { (measure.title) }
            p.definition { (measure.words) }
            @if rows.is_empty() {
                p { "No cohort of this measure falls into this report." }
            } @else {
                (stacking(&measure.title, &headings, recent))
            }
            @if !earlier.is_empty() {
                details.earlier {
                    summary { "Earlier and other cohorts (" (earlier.len()) ")" }
                    (stacking(&format!("{}, earlier and other cohorts", measure.title), &headings, earlier))
                }
            }
            @if !measure.caution.is_empty() { p.caution { b { "Keep in mind: " } (measure.caution) } }
            @if !measure.context.is_empty() {
                div.context {
                    p { b { "Published figures, for context and not a target:" } }
                    ul { @for line in &measure.context { li { (line) } } }
                }
            }
            details.meaning open[audience == Audience::Auditor] {
                summary { "Definition, denominator and source" }
                dl.facts {
                    dt { "Numerator" } dd { (measure.numerator) }
                    dt { "Denominator" } dd { (measure.denominator) }
                    dt { "Left out" } dd { (measure.exclusions) }
                    dt { "Mature when" } dd { (measure.maturity) }
                    dt { "Direction" } dd { (direction(&measure.direction)) }
                    dt { "Source" } dd { (measure.source) }
                    dt { "Measure id" } dd { code { (measure.id) } }
                }
            }
        }
    }
}

fn direction(direction: &str) -> &str {
    match direction {
        "better" => "A higher figure is better.",
        "worse" => "A lower figure is better.",
        "neither" => "Neither a higher nor a lower figure is better in itself.",
        other => other,
    }
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
    Notes,
}

/// Columns that at least one result fills. Level and method stand in the heading when all results share them.
fn columns(results: &[MeasureResult]) -> Vec<(Part, Column)> {
    let mut columns = vec![
        (Part::Cohort, words("Cohort")),
        (Part::Value, values("Value")),
    ];
    let kinds: std::collections::BTreeSet<String> = results
        .iter()
        .filter_map(interval)
        .map(wording::interval_kind)
        .collect();
    match (kinds.first(), kinds.len()) {
        (Some(kind), 1) => columns.push((
            Part::Limits { with_kind: false },
            values(format!("Interval ({kind})")),
        )),
        (Some(_), _) => columns.push((Part::Limits { with_kind: true }, values("Interval"))),
        (None, _)
            if results
                .iter()
                .any(|r| wording::value_limits(&r.value, r.unit).is_some()) =>
        {
            columns.push((Part::Limits { with_kind: false }, numbers("Interval")));
        }
        (None, _) => {}
    }
    if results.iter().any(|result| fraction(result).is_some()) {
        columns.push((Part::People, numbers("Count")));
    }
    if results.iter().any(|result| result.n_unknown.is_some()) {
        columns.push((Part::Unknown, numbers("Outcome unknown")));
    }
    if results.iter().any(|result| result.bounds.is_some()) {
        columns.push((Part::Bounds, numbers("Worst to best case")));
    }
    if results.iter().any(|result| !result.notes.is_empty()) {
        columns.push((Part::Notes, words("Remarks")));
    }
    columns
}

fn interval(result: &MeasureResult) -> Option<&Interval> {
    match &result.value {
        Value::Known(estimate) => estimate.interval.as_ref(),
        _ => None,
    }
}

fn row(result: &MeasureResult, columns: &[(Part, Column)]) -> Vec<Markup> {
    let dash = || ABSENT.to_owned();
    columns
        .iter()
        .map(|(part, _)| match part {
            Part::Cohort => html! {
                (result.cohort)
                @if result.stratum != "all" { ": " (result.stratum) }
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
            Part::Notes => cell(result.notes.join(" ")),
        })
        .collect()
}

/// The result if every unknown outcome were the worst, to the result if every one were the best.
fn bounds(result: &MeasureResult) -> Option<String> {
    let bounds = result.bounds?;
    wording::between(result.unit, Some(bounds.lowest), Some(bounds.highest))
}
