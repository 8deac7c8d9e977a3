//! Tables behind control charts and funnels.

use crate::page::table::{ABSENT, cell, numbers, scrolling, values, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::{ControlChart, Count, Forest, Funnel, Unit};

/// Points with their limits, then every rule that was looked for.
pub(super) fn control_chart(chart: &ControlChart) -> Markup {
    let columns = [
        words("Point"),
        values("Value"),
        numbers("n"),
        numbers("Centre"),
        numbers("Limits"),
        words("Signals"),
    ];
    let rows: Vec<Vec<Markup>> = chart
        .points
        .iter()
        .map(|point| {
            let limits = wording::between(chart.unit, point.lower, point.upper);
            vec![
                cell(&point.label),
                cell(wording::value(&point.value, chart.unit)),
                cell(count(point.n)),
                cell(number(chart.unit, point.centre)),
                cell(limits.as_deref().unwrap_or(ABSENT)),
                cell(point.signals.join(", ")),
            ]
        })
        .collect();
    html! {
        (scrolling(&chart.frame.title, &columns, &rows))
        p.note { "Chart: " (chart.kind_of_chart) ". Limits: " (chart.limits_words) "." }
        @if !chart.signals.is_empty() {
            p.note { "Signals looked for:" }
            dl.facts.note { @for signal in &chart.signals { dt { (signal.name) } dd { (signal.words) } } }
        }
    }
}

/// Units with their size and place.
pub(super) fn funnel(chart: &Funnel) -> Markup {
    let columns = [
        words("Unit"),
        values("Value"),
        values("Interval"),
        numbers("n"),
        words("Place"),
    ];
    let rows: Vec<Vec<Markup>> = chart
        .units
        .iter()
        .map(|unit| {
            let limits = wording::value_limits(&unit.value, chart.unit);
            vec![
                cell(&unit.label),
                cell(wording::value(&unit.value, chart.unit)),
                cell(limits.as_deref().unwrap_or(ABSENT)),
                cell(unit.n.to_string()),
                cell(&unit.place),
            ]
        })
        .collect();
    html! {
        (scrolling(&chart.frame.title, &columns, &rows))
        p.note { "All together: " (wording::number(chart.unit, chart.expected)) ". The units are in name order; no order of merit follows from the chart." }
    }
}

/// Rows with their intervals.
pub(super) fn forest(chart: &Forest) -> Markup {
    let columns = [
        words("Row"),
        values("Value"),
        values("Interval"),
        numbers("Events"),
        numbers("n"),
    ];
    let rows: Vec<Vec<Markup>> = chart
        .rows
        .iter()
        .map(|row| {
            let limits = wording::value_limits(&row.value, chart.unit);
            let label = match &row.group {
                Some(group) => format!("{group}: {}", row.label),
                None => row.label.clone(),
            };
            vec![
                cell(label),
                cell(wording::value(&row.value, chart.unit)),
                cell(limits.as_deref().unwrap_or(ABSENT)),
                cell(count(row.n_events)),
                cell(count(row.n)),
            ]
        })
        .collect();
    scrolling(&chart.frame.title, &columns, &rows)
}

fn count(count: Option<Count>) -> String {
    count.map_or_else(|| ABSENT.to_owned(), |n| n.to_string())
}

fn number(unit: Unit, value: Option<f64>) -> String {
    value.map_or_else(|| ABSENT.to_owned(), |value| wording::number(unit, value))
}
