//! Tables behind charts of courses over time.

use super::{height_at, incidence};
use crate::page::table::{
    ABSENT, Group, cell, numbers, scrolling, scrolling_groups, values, words,
};
use crate::{chart, wording};
use maud::{Markup, html};
use outcomes::report::{
    AtRiskRow, IntervalBeside, IntervalMass, SmallMultiples, SmallPanel, Trajectories, Unit,
};

/// One group of rows a panel: every curve at every tick.
pub(super) fn small_multiples(chart: &SmallMultiples) -> Markup {
    let mut columns = vec![words("Time")];
    let fullest = chart.panels.iter().max_by_key(|panel| panel.curves.len());
    let curves = || fullest.into_iter().flat_map(|panel| &panel.curves);
    columns.extend(curves().map(|curve| values(&curve.label)));
    columns.push(numbers("At risk"));
    let groups: Vec<Group> = chart
        .panels
        .iter()
        .map(|panel| Group {
            heading: Some(html! {
                (panel.label) " (n = " (panel.n) ")"
                @if let Some(absent) = &panel.absent { ": " (absent) }
            }),
            rows: panel_rows(chart, panel, curves().count()),
        })
        .collect();
    scrolling_groups(&chart.frame.title, &columns, &groups)
}

fn panel_rows(chart: &SmallMultiples, panel: &SmallPanel, n_curves: usize) -> Vec<Vec<Markup>> {
    if panel.absent.is_some() {
        return Vec::new();
    }
    chart
        .ticks
        .iter()
        .enumerate()
        .map(|(place, day)| {
            let mut row = vec![cell(chart::tick_name(*day, &chart.tick_unit))];
            row.extend((0..n_curves).map(|curve| {
                let curve = panel.curves.get(curve);
                cell(curve.map_or_else(|| ABSENT.to_owned(), |curve| height_at(curve, *day)))
            }));
            let n = panel.at_risk.get(place);
            row.push(cell(n.map_or_else(String::new, |n| n.to_string())));
            row
        })
        .collect()
}

/// The dated curve at every tick, then the spans of the other estimate.
pub(super) fn interval_beside(chart: &IntervalBeside) -> Markup {
    let title = &chart.frame.title;
    let curves = std::slice::from_ref(&chart.conventional);
    let no_rows: &[AtRiskRow] = &[];
    let rows: Vec<Vec<Markup>> = chart.masses.iter().map(span).collect();
    let columns = [words("Span of days"), numbers("Probability")];
    html! {
        (incidence(title, &chart.ticks, &chart.tick_unit, curves, no_rows))
        (scrolling(&chart.interval_label, &columns, &rows))
    }
}

fn span(mass: &IntervalMass) -> Vec<Markup> {
    let after = wording::number(Unit::Count, mass.after_day);
    let span = match mass.by_day {
        Some(by) => format!(
            "after day {after}, by day {}",
            wording::number(Unit::Count, by)
        ),
        None => format!("after day {after}, if ever"),
    };
    vec![cell(span), cell(wording::percent(mass.probability))]
}

/// The summary only: single ulcers are in the picture, not in a table.
pub(super) fn trajectories(chart: &Trajectories) -> Markup {
    let rows: Vec<Vec<Markup>> = chart
        .summary
        .iter()
        .map(|point| {
            let middle = wording::between(Unit::Share, point.lower, point.upper);
            vec![
                cell(format!("day {}", wording::number(Unit::Count, point.day))),
                cell(wording::percent(point.estimate)),
                cell(middle.as_deref().unwrap_or(ABSENT)),
            ]
        })
        .collect();
    let columns = [
        words("Time"),
        numbers("Median share of the first area"),
        numbers("Middle half"),
    ];
    scrolling(&chart.frame.title, &columns, &rows)
}
