//! The section of people who need attention.

use super::table::{cell, numbers, stacking, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::{ActionItem, Report, Unit};

/// Lines shown at once; the list is in order of urgency, the rest is a click away.
const LINES_SHOWN: usize = 20;

/// Said in place of an empty list.
pub(crate) fn nobody(report: &Report) -> &'static str {
    if report.dates.is_plain() {
        "Nobody meets a rule of the action list."
    } else {
        "There is no such list: the dates of this export do not allow one. Why stands at the top and among the cautions."
    }
}

/// What the list is and is not.
pub(crate) fn lead(report: &Report) -> String {
    format!(
        "Each line is a fact from the records on {} and the rule that put it here, most urgent first. It is a prompt to look, not advice on treatment; the patient’s own record and the clinician’s judgement come first. Days are counted since the rule began to apply.",
        wording::date(report.horizon.cut_off)
    )
}

/// The action list, in the order given. Called for the clinic copy only.
pub(crate) fn section(report: &Report) -> Markup {
    let rows: Vec<Vec<Markup>> = report.action_list.iter().map(row).collect();
    let first = rows.get(..LINES_SHOWN).unwrap_or(&rows);
    let further = rows.get(LINES_SHOWN..).unwrap_or_default();
    let columns = [
        words("Patient"),
        words("Place"),
        words("Why"),
        numbers("Days"),
        words("Clears when"),
        words("Row"),
    ];
    html! {
        section #attention aria-labelledby="attention-title" {
            h2 #attention-title { "People who need attention" }
            p.lead {
                (lead(report))
            }
            @if rows.is_empty() {
                p { (nobody(report)) }
            } @else {
                (stacking("People who need attention", &columns, first))
                @if !further.is_empty() {
                    p.on-paper { "Further lines, in the file and not on paper: " (further.len()) "." }
                    details.further {
                        summary { "Further lines (" (further.len()) ")" }
                        (stacking("People who need attention, further lines", &columns, further))
                    }
                }
            }
        }
    }
}

fn row(item: &ActionItem) -> Vec<Markup> {
    vec![
        html! { (item.patient) @if item.is_urgent { " " strong.urgent { "urgent" } } },
        cell(&item.place),
        html! { (item.reason) " " span.rule { (item.rule) } },
        cell(wording::number(Unit::Count, item.days as f64)),
        cell(&item.clears_when),
        html! { span.trace { (item.trace) } },
    ]
}
