//! The sections of method: rules, settings, words, cautions, provenance.

use super::FILES_STAY;
use super::anchors::Anchors;
use super::sensitivity;
use super::table::{ABSENT, cell, name, numbers, scrolling, stacking, words};
use crate::wording;
use maud::{Markup, html};
use outcomes::report::{Provenance, Report, RuleLine, SettingLine};

/// The rules and settings behind the numbers, the words used, the cautions, and what made the report.
pub(crate) fn sections(report: &Report, anchors: &Anchors) -> Markup {
    html! {
        section #rules aria-labelledby="rules-title" {
            h2 #rules-title { "Rules and settings" }
            h3 { "The rules that decide the numbers" }
            (rules(report, anchors))
            h3 { "Settings in force" }
            (settings(&report.settings))
            @if !report.sensitivity.is_empty() {
                h3 { "How much each rule decides" }
                (sensitivity::table(&report.sensitivity))
            }
        }
        section #words aria-labelledby="words-title" {
            h2 #words-title { "Words, cautions, provenance" }
            h3 { "Words used" }
            dl.glossary { @for (word, meaning) in &report.glossary { dt { (word) } dd { (meaning) } } }
            h3 { "Cautions" }
            ul.cautions { @for caution in &report.cautions { li { (caution) } } }
            h3 { "What made this report" }
            (provenance(&report.provenance))
        }
    }
}

fn rules(report: &Report, anchors: &Anchors) -> Markup {
    if report.rules.is_empty() {
        return html! { p { "No measure was computed." } };
    }
    let rows: Vec<Vec<Markup>> = report
        .rules
        .iter()
        .map(|rule| rule_row(report, anchors, rule))
        .collect();
    let columns = [words("Measure"), words("What counts"), words("Time")];
    stacking("The rules that decide the numbers", &columns, &rows)
}

fn rule_row(report: &Report, anchors: &Anchors, rule: &RuleLine) -> Vec<Markup> {
    let name = match anchors.of_measure(report, &rule.measure) {
        Some(anchor) => html! { a href=(format!("#{anchor}")) { (rule.measure) } },
        None => cell(&rule.measure),
    };
    let counts = facts(&[
        ("Unit", &rule.unit),
        ("Event", &rule.event),
        ("Competing", &rule.competing),
        ("Outcome known", &rule.known),
    ]);
    let time = facts(&[
        ("Clock starts", &rule.clock),
        ("Enters", &rule.entry),
        ("Censored", &rule.censoring),
        ("Same day", &rule.same_day),
    ]);
    vec![name, counts, time]
}

fn facts(lines: &[(&str, &String)]) -> Markup {
    html! {
        dl.facts { @for (name, words) in lines { dt { (name) } dd { (words) } } }
    }
}

fn settings(settings: &[SettingLine]) -> Markup {
    let rows: Vec<Vec<Markup>> = settings
        .iter()
        .map(|setting| {
            vec![
                name(&setting.name),
                html! {
                    (setting.value)
                    @if let Some(default) = &setting.default {
                        " " strong.changed { "changed; default " (default) }
                    }
                },
                cell(&setting.words),
            ]
        })
        .collect();
    stacking(
        "Settings in force",
        &[words("Setting"), words("Value"), words("What it decides")],
        &rows,
    )
}

fn provenance(provenance: &Provenance) -> Markup {
    if provenance.inputs.is_empty() {
        return html! { p { "Made by " (provenance.program) ". " (FILES_STAY) } };
    }
    let hash = |hash: &str| html! { code.hash { (hash) } };
    let mut rows = vec![
        vec![
            cell(&provenance.pipeline.0),
            cell("pipeline"),
            cell(ABSENT),
            hash(&provenance.pipeline.1),
        ],
        vec![
            cell(&provenance.layout.0),
            cell("layout"),
            cell(ABSENT),
            hash(&provenance.layout.1),
        ],
    ];
    rows.extend(provenance.inputs.iter().map(|(file, bytes, sha256)| {
        vec![
            cell(file),
            cell("export"),
            cell(wording::file_size(*bytes)),
            hash(sha256),
        ]
    }));
    rows.extend(
        provenance.code_tables.iter().map(|(table, sha256)| {
            vec![cell(table), cell("code table"), cell(ABSENT), hash(sha256)]
        }),
    );
    let columns = [
        words("File"),
        words("Role"),
        numbers("Size"),
        words("SHA-256"),
    ];
    html! {
        p { "Made by " (provenance.program) " from these files. The same files and settings give the same report, byte for byte." }
        (scrolling("Files behind this report", &columns, &rows))
    }
}
