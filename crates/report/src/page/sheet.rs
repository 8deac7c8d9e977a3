//! The sheet of one measure.

use super::values;
use maud::{Markup, html};
use outcomes::report::{Audience, MeasureSheet};

/// One measure: what it came to, then what it means.
pub(crate) fn sheet(measure: &MeasureSheet, anchor: &str, audience: Audience) -> Markup {
    html! {
        article.sheet id=(anchor) {
            h3 { (measure.title) }
            p.definition { (measure.words) }
            @if !measure.speaks_of.is_empty() { p.speaks-of { (measure.speaks_of) } }
            (values::tables(measure))
            (values::splits(measure, audience == Audience::Auditor))
            @if !measure.caution.is_empty() { p.caution { b { "Keep in mind: " } (measure.caution) } }
            @if !measure.context.is_empty() {
                div.context {
                    p { b { "Published figures, for context and not a target:" } }
                    ul { @for line in &measure.context { li { (line) } } }
                }
            }
            details.meaning open[audience == Audience::Auditor] {
                summary { "Definition, denominator and source" }
                dl.facts {
                    dt { "Numerator" } dd { (measure.numerator) }
                    dt { "Denominator" } dd { (measure.denominator) }
                    dt { "Left out" } dd { (measure.exclusions) }
                    dt { "Mature when" } dd { (measure.maturity) }
                    dt { "Direction" } dd { (direction(&measure.direction)) }
                    dt { "Source" } dd { (measure.source) }
                    dt { "Measure id" } dd { code { (measure.id) } }
                }
            }
        }
    }
}

pub(crate) fn direction(direction: &str) -> &str {
    match direction {
        "better" => "A higher figure is better.",
        "worse" => "A lower figure is better.",
        "neither" => "Neither a higher nor a lower figure is better in itself.",
        other => other,
    }
}
