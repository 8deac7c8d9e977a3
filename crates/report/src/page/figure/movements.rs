//! Tables behind charts of movements and pathways.

use crate::page::table::{ABSENT, cell, numbers, scrolling, values, words};
use crate::wording;
use maud::Markup;
use outcomes::report::{Count, Movement, Pathway, Unit, Value};

/// A row a class at the beginning, a column a class at the end.
pub(super) fn movement(chart: &Movement) -> Markup {
    let mut columns = vec![words(format!("{} to {}", chart.from, chart.to))];
    columns.extend(chart.to_classes.iter().map(numbers));
    let rows: Vec<Vec<Markup>> = chart
        .from_classes
        .iter()
        .enumerate()
        .map(|(from, class)| {
            let mut row = vec![cell(class)];
            row.extend((0..chart.to_classes.len()).map(|to| {
                let flow = chart
                    .flows
                    .iter()
                    .find(|flow| flow.from == from && flow.to == to);
                cell(flow.map_or(Count::Shown(0), |flow| flow.n).to_string())
            }));
            row
        })
        .collect();
    scrolling(&chart.frame.title, &columns, &rows)
}

/// A row a step: the share that reached it by each day, and the median.
pub(super) fn pathway(chart: &Pathway) -> Markup {
    let mut columns = vec![words("Step")];
    columns.extend(chart.days.iter().map(|day| {
        let by = wording::number(Unit::Days, f64::from(*day));
        values(format!("Within {by}"))
    }));
    columns.extend([values("Half by"), numbers("Reached")]);
    let rows: Vec<Vec<Markup>> = chart
        .steps
        .iter()
        .map(|step| {
            let mut row = vec![cell(&step.label)];
            row.extend((0..chart.days.len()).map(|place| {
                let value = step.reached.get(place);
                cell(value.map_or_else(|| ABSENT.to_owned(), |value| said(value, Unit::Share)))
            }));
            row.push(cell(said(&step.median_days, Unit::Days)));
            row.push(cell(format!("{} of {}", step.n_reached, chart.n)));
            row
        })
        .collect();
    scrolling(&chart.frame.title, &columns, &rows)
}

/// A value with its limits in brackets.
fn said(value: &Value, unit: Unit) -> String {
    let words = wording::value(value, unit);
    match wording::value_limits(value, unit) {
        Some(limits) => format!("{words} ({limits})"),
        None => words,
    }
}
