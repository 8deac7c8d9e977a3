//! The section of how much each rule decides.

use super::table::{Group, cell, numbers, stacking_groups, values, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::words::value_with_counts;
use outcomes::report::{SensitiveFigure, Sensitivity};

/// What the table says, on paper too.
pub(crate) const SENSITIVITY_WORDS: &str = "Each headline figure was made again with one rule at a time at an alternative that others would defend. A large difference says that the rule decides the figure; it does not say which value is right.";
pub(crate) const IDLE_RULES: &str = "These change no headline figure:";

/// What the headline figures would be if one rule were another: rules that change a figure in a table, the others in a line.
pub(crate) fn table(lines: &[Sensitivity]) -> Markup {
    let (telling, idle): (Vec<&Sensitivity>, Vec<&Sensitivity>) =
        lines.iter().partition(|line| !line.changed.is_empty());
    let groups: Vec<Group> = telling.into_iter().map(group).collect();
    let columns = [
        words("Headline"),
        words("In force"),
        words("Under the alternative"),
        values("Difference"),
        numbers("Cohort"),
    ];
    html! {
        p { (SENSITIVITY_WORDS) }
        @if !groups.is_empty() { (stacking_groups("How much each rule decides", &columns, &groups)) }
        @if !idle.is_empty() {
            p { (IDLE_RULES) }
            ul { @for line in idle { li { (change(line)) } } }
        }
    }
}

fn change(line: &Sensitivity) -> Markup {
    html! { code { (line.rule) } ": " (line.in_force) " → " (line.alternative) }
}

fn group(line: &Sensitivity) -> Group {
    Group {
        heading: Some(html! { (change(line)) " (" (line.words) ")" }),
        rows: line.changed.iter().map(row).collect(),
    }
}

fn row(figure: &SensitiveFigure) -> Vec<Markup> {
    let in_force = &figure.in_force;
    vec![
        cell(wording::of_stratum(&in_force.measure, &in_force.stratum)),
        cell(value_with_counts(in_force)),
        cell(value_with_counts(&figure.alternative)),
        cell(wording::difference_under(figure)),
        cell(&in_force.period),
    ]
}
