//! Versions of a measure in one table.

use super::front::fraction;
use super::sheet;
use super::table::{ABSENT, cell, numbers, stacking, values, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::{Audience, MeasureResult, MeasureSheet};

/// What a measure comes to by other rules, units or estimators: the newest figures in one table, the whole sheets behind a
/// click. Nothing for a measure without versions.
pub(crate) fn versions(
    main: &str,
    sheets: &[(&MeasureSheet, &String)],
    audience: Audience,
) -> Markup {
    let versions: Vec<&(&MeasureSheet, &String)> = sheets
        .iter()
        .filter(|(sheet, _)| sheet.version_of.as_deref() == Some(main))
        .collect();
    let columns = [
        words("The same by another rule"),
        words("Cohort"),
        values("Value"),
        values("Interval"),
        numbers("Count"),
    ];
    let rows: Vec<Vec<Markup>> = versions
        .iter()
        .flat_map(|(sheet, anchor)| newest(sheet, anchor))
        .collect();
    html! {
        @if !versions.is_empty() {
            div.versions {
                (stacking("Other versions of this measure", &columns, &rows))
                details.further-versions open[audience == Audience::Auditor] {
                    summary { "Definitions and every cohort of these versions (" (versions.len()) ")" }
                    @for (version, anchor) in &versions {
                        (sheet::sheet(version, anchor, audience))
                    }
                }
            }
        }
    }
}

/// The results of the newest cohort of one version, at most four.
pub(crate) fn newest_of(sheet: &MeasureSheet) -> impl Iterator<Item = &MeasureResult> {
    let first = sheet.results.first().map(|result| &result.cohort);
    let newest = sheet.results.iter();
    newest
        .take_while(move |result| Some(&result.cohort) == first)
        .take(4)
}

fn newest(sheet: &MeasureSheet, anchor: &str) -> Vec<Vec<Markup>> {
    let dash = || ABSENT.to_owned();
    newest_of(sheet)
        .map(|result| {
            vec![
                html! {
                    a href=(format!("#{anchor}")) { (sheet.title) }
                    @if result.stratum != "all" { ": " (result.stratum) }
                },
                cell(&result.cohort),
                html! { b { (wording::value(&result.value, result.unit)) } },
                cell(wording::value_limits(&result.value, result.unit).unwrap_or_else(dash)),
                cell(fraction(result).unwrap_or_else(dash)),
            ]
        })
        .collect()
}
