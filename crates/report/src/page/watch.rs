//! The section of series watched over the quarters.

use super::anchors::Anchors;
use super::table::{cell, stacking, words};
use maud::{Markup, html};
use outcomes::report::Report;

/// The heading, on paper too.
pub(crate) const WATCHED: &str = "Is it chance? Series watched over the quarters";

/// Every series watched over the quarters with what was found; nothing where no series is watched.
pub(crate) fn section(report: &Report, anchors: &Anchors) -> Markup {
    let monitoring = &report.monitoring;
    let anchor_of = |id: &str| {
        let figures = report.figures.iter().zip(&anchors.figures);
        figures
            .filter(|(figure, _)| figure.frame().id == id)
            .map(|(_, anchor)| anchor)
            .next()
    };
    let rows: Vec<Vec<Markup>> = monitoring
        .series
        .iter()
        .map(|series| {
            let anchor = series.figure.as_deref().and_then(anchor_of);
            vec![
                html! {
                    @if let Some(anchor) = anchor { a href=(format!("#{anchor}")) { (series.title) } }
                    @else { (series.title) }
                },
                html! {
                    @if series.is_signal { strong { "signal" } ": " }
                    (series.finding)
                },
                cell(if series.figure.is_some() { "charted" } else { "no chart" }),
            ]
        })
        .collect();
    let columns = [words("Series"), words("Finding"), words("Chart")];
    html! {
        @if !rows.is_empty() {
            section #watched aria-labelledby="watched-title" {
                h2 #watched-title { (WATCHED) }
                @for rule in &monitoring.rules { p { (rule) } }
                (stacking("Series watched over the quarters", &columns, &rows))
            }
        }
    }
}
