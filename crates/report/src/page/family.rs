//! The section of a family: its figures and its sheets.

use super::anchors::Anchors;
use super::{figure, sheet, versions};
use crate::RenderError;
use maud::{Markup, html};
use outcomes::report::{Family, Figure, MeasureSheet, Report};

/// One section a family: its figures, then its measure sheets. Figures of no family come last.
pub(crate) fn sections(report: &Report, anchors: &Anchors) -> Result<Markup, RenderError> {
    let mut sections = Vec::with_capacity(report.families.len());
    let parts = report
        .families
        .iter()
        .zip(&anchors.families)
        .zip(&anchors.measures);
    for ((family, anchor), sheets) in parts {
        let figures = figures(report, anchors, |figure| figure.frame().family == family.id)?;
        sections.push(section(report, family, anchor, sheets, &figures));
    }
    let is_homeless = |figure: &Figure| {
        report
            .families
            .iter()
            .all(|family| family.id != figure.frame().family)
    };
    let others = figures(report, anchors, is_homeless)?;
    Ok(html! {
        @for section in &sections { (section) }
        @if !others.is_empty() {
            section aria-labelledby="other-figures-title" {
                h2 #other-figures-title { "Other figures" }
                @for figure in &others { (figure) }
            }
        }
    })
}

fn figures(
    report: &Report,
    anchors: &Anchors,
    belongs: impl Fn(&Figure) -> bool,
) -> Result<Vec<Markup>, RenderError> {
    report
        .figures
        .iter()
        .zip(&anchors.figures)
        .filter(|(figure, _)| belongs(figure))
        .map(|(figure, anchor)| figure::figure(figure, anchor))
        .collect()
}

fn section(
    report: &Report,
    family: &Family,
    anchor: &str,
    sheets: &[String],
    figures: &[Markup],
) -> Markup {
    let all: Vec<(&MeasureSheet, &String)> = family.measures.iter().zip(sheets).collect();
    let is_main = |(sheet, _): &&(&MeasureSheet, &String)| {
        let main = sheet.version_of.as_ref();
        main.is_none_or(|main| family.measures.iter().all(|other| other.id != *main))
    };
    // A version whose main measure the report leaves out stands by itself.
    let own: Vec<(&MeasureSheet, &String)> = all.iter().filter(is_main).copied().collect();
    html! {
        section id=(anchor) aria-labelledby=(format!("{anchor}-title")) {
            h2 id=(format!("{anchor}-title")) { (family.title) }
            p.lead { (family.lead) }
            @for figure in figures { (figure) }
            @if family.measures.is_empty() { p { "No measure of this family is part of this report." } }
            @for (measure, anchor) in &own {
                (sheet::sheet(measure, anchor, report.audience))
                (versions::versions(&measure.id, &all, report.audience))
            }
        }
    }
}
