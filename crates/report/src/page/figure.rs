use super::front::quarters;
use super::table::{ABSENT, cell, numbers, scrolling, values, words};
use crate::chart::{self, Room};
use crate::{RenderError, wording};
use maud::{Markup, PreEscaped, html};
use outcomes::report::{AtRiskRow, Count, Figure, IncidenceCurve, StackedQuarter, Unit};

/// A chart with its finding, its caption and its numbers.
pub(crate) fn figure(figure: &Figure, anchor: &str) -> Result<Markup, RenderError> {
    let frame = figure.frame();
    let wide = chart::draw(figure, Room::Wide, anchor)?;
    let narrow = chart::draw(figure, Room::Narrow, anchor)?;
    Ok(html! {
        figure id=(anchor) {
            h3 { (frame.title) }
            (PreEscaped(wide))
            (PreEscaped(narrow))
            figcaption {
                (frame.caption)
                @if has_suppressed(figure) { " A dash or an empty bar stands for counts suppressed to protect patients." }
            }
            details { summary { "The numbers behind this chart" } (numbers_behind(figure)) }
        }
    })
}

fn has_suppressed(figure: &Figure) -> bool {
    let is_suppressed = |count: &Count| *count == Count::Suppressed;
    match figure {
        Figure::CumulativeIncidence { at_risk, .. } => at_risk
            .iter()
            .flat_map(|row| &row.counts)
            .any(is_suppressed),
        Figure::StackedShares { quarters, .. } => quarters
            .iter()
            .any(|quarter| is_suppressed(&quarter.n) || quarter.counts.iter().any(is_suppressed)),
        Figure::QuarterlyTrend { points, .. } => points
            .iter()
            .any(|point| point.n.as_ref().is_some_and(is_suppressed)),
    }
}

fn numbers_behind(figure: &Figure) -> Markup {
    let title = &figure.frame().title;
    match figure {
        Figure::CumulativeIncidence {
            ticks,
            tick_unit,
            curves,
            at_risk,
            ..
        } => incidence(title, ticks, tick_unit, curves, at_risk),
        Figure::StackedShares {
            layers, quarters, ..
        } => shares(title, layers, quarters),
        Figure::QuarterlyTrend { unit, points, .. } => quarters(title, points, *unit),
    }
}

/// Height of every curve at every tick, and who was at risk.
fn incidence(
    title: &str,
    ticks: &[u32],
    tick_unit: &str,
    curves: &[IncidenceCurve],
    at_risk: &[AtRiskRow],
) -> Markup {
    let mut columns = vec![words("Time")];
    columns.extend(curves.iter().map(|curve| values(&curve.label)));
    columns.extend(at_risk.iter().map(|row| numbers(&row.label)));
    let rows: Vec<Vec<Markup>> = ticks
        .iter()
        .enumerate()
        .map(|(place, day)| {
            let mut row = vec![cell(chart::tick_name(*day, tick_unit))];
            row.extend(curves.iter().map(|curve| cell(height_at(curve, *day))));
            let counts = at_risk.iter().map(|row| row.counts.get(place));
            row.extend(counts.map(|n| cell(n.map_or_else(String::new, |n| n.to_string()))));
            row
        })
        .collect();
    html! {
        (scrolling(title, &columns, &rows))
        p.note { "Every step of the curves is in the report’s data file." }
    }
}

/// The curve on a day: its last step up to then. Days past its end have no value.
fn height_at(curve: &IncidenceCurve, day: u32) -> String {
    let day = f64::from(day);
    if day > curve.until_day {
        return ABSENT.to_owned();
    }
    match curve.points.iter().rev().find(|point| point.day <= day) {
        None => wording::percent(0.0),
        Some(point) if point.lower.is_none() && point.upper.is_none() => {
            wording::percent(point.estimate)
        }
        Some(point) => format!(
            "{} ({})",
            wording::percent(point.estimate),
            wording::between(Unit::Share, point.lower, point.upper).unwrap_or_default()
        ),
    }
}

fn shares(title: &str, layers: &[String], quarters: &[StackedQuarter]) -> Markup {
    let mut columns = vec![words("Quarter")];
    columns.extend(layers.iter().map(numbers));
    columns.push(numbers("n"));
    let rows: Vec<Vec<Markup>> = quarters
        .iter()
        .map(|quarter| {
            let mut row = vec![cell(&quarter.quarter)];
            row.extend(quarter.counts.iter().map(|n| cell(n.to_string())));
            row.push(cell(quarter.n.to_string()));
            row
        })
        .collect();
    scrolling(title, &columns, &rows)
}
