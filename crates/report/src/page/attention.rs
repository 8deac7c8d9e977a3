use super::table::{cell, numbers, stacking, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::{ActionItem, Report, Unit};

/// The action list, in the order given. Called for the clinic copy only.
pub(crate) fn section(report: &Report) -> Markup {
    let rows: Vec<Vec<Markup>> = report.action_list.iter().map(row).collect();
    let columns = [
        words("Patient"),
        words("Place"),
        words("Why"),
        numbers("Days"),
        words("Clears when"),
        words("Last row"),
    ];
    html! {
        section #attention aria-labelledby="attention-title" {
            h2 #attention-title { "People who need attention" }
            p.lead {
                "Each line is a fact from the records on " (wording::date(report.horizon.cut_off))
                " and the rule that put it here, most urgent first. It is a prompt to look, not advice on treatment; the patient’s own record and the clinician’s judgement come first. Days are counted since the rule began to apply."
            }
            @if rows.is_empty() {
                p { "Nobody meets a rule of the action list." }
            } @else {
                (stacking("People who need attention", &columns, &rows))
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
