//! Figures of the page: finding, chart, caption, and the numbers a click away.

mod courses;
mod monitoring;
mod movements;

use super::front::quarters;
use super::table::{ABSENT, cell, numbers, scrolling, values, words};
use crate::chart::{self, Room};
use crate::{RenderError, wording};
use maud::{Markup, PreEscaped, html};
use outcomes::report::{AtRiskRow, Figure, IncidenceCurve, StackedQuarter, Unit};

/// A chart with its finding, its caption and its numbers.
pub(crate) fn figure(figure: &Figure, anchor: &str) -> Result<Markup, RenderError> {
    let frame = figure.frame();
    let drawn = [Room::Wide, Room::Narrow].map(|room| chart::draw(figure, room, anchor));
    Ok(html! {
        figure id=(anchor) {
            h3 { (frame.title) }
            @for picture in drawn { (PreEscaped(picture?)) }
            figcaption {
                (frame.caption)
                @if figure.is_partly_hidden() { " A dash or an empty bar stands for counts suppressed to protect patients." }
            }
            details { summary { "The numbers behind this chart" } (numbers_behind(figure)) }
        }
    })
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
        Figure::IncidenceStack(chart) => incidence(
            title,
            &chart.ticks,
            &chart.tick_unit,
            &chart.layers,
            &chart.at_risk,
        ),
        Figure::SmallMultiples(chart) => courses::small_multiples(chart),
        Figure::IntervalBeside(chart) => courses::interval_beside(chart),
        Figure::Trajectories(chart) => courses::trajectories(chart),
        Figure::FollowUpCalendar(chart) => shares(title, &chart.endings, &chart.quarters),
        Figure::ControlChart(chart) => monitoring::control_chart(chart),
        Figure::Funnel(chart) => monitoring::funnel(chart),
        Figure::Forest(chart) => monitoring::forest(chart),
        Figure::Movement(chart) => movements::movement(chart),
        Figure::Pathway(chart) => movements::pathway(chart),
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
