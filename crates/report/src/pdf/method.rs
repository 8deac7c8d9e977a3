//! How the numbers were made, by which rules and settings, in which words: the last sections on paper.

use super::block::{
    Block, Cell, Row, Table, Term, cell, heading, numbers, paragraph, row, section, words,
};
use super::research;
use crate::page::FILES_STAY;
use crate::wording;
use outcomes::report::{Provenance, Report, RuleLine, SettingLine};

/// Adds the closing sections.
pub(super) fn sections(report: &Report, blocks: &mut Vec<Block>) {
    blocks.push(section("Rules and settings"));
    blocks.push(heading("The rules that decide the numbers"));
    for rule in &report.rules {
        blocks.push(Block::Subheading {
            words: rule.measure.clone(),
        });
        blocks.push(Block::Terms { terms: facts(rule) });
    }
    blocks.push(heading("Settings in force"));
    blocks.push(Block::Table(settings(&report.settings)));
    research::sensitivity(&report.sensitivity, blocks);
    blocks.push(section("Words, cautions, provenance"));
    blocks.push(heading("Words used"));
    let term = |(word, meaning): &(String, String)| Term {
        word: word.clone(),
        meaning: meaning.clone(),
    };
    blocks.push(Block::Terms {
        terms: report.glossary.iter().map(term).collect(),
    });
    blocks.push(heading("Cautions"));
    blocks.push(Block::List {
        items: report.cautions.clone(),
    });
    blocks.push(heading("What made this report"));
    let program = &report.provenance.program;
    if report.provenance.inputs.is_empty() {
        blocks.push(paragraph(format!("Made by {program}. {FILES_STAY}")));
        return;
    }
    blocks.push(paragraph(format!(
        "Made by {program} from these files. The same files and settings give the same report, byte for byte."
    )));
    blocks.push(Block::Table(provenance(&report.provenance)));
}

fn facts(rule: &RuleLine) -> Vec<Term> {
    [
        ("Unit", &rule.unit),
        ("Clock starts", &rule.clock),
        ("Enters", &rule.entry),
        ("Event", &rule.event),
        ("Competing", &rule.competing),
        ("Censored", &rule.censoring),
        ("Same day", &rule.same_day),
        ("Outcome known", &rule.known),
    ]
    .map(|(word, meaning)| Term {
        word: word.to_owned(),
        meaning: meaning.clone(),
    })
    .into()
}

fn settings(settings: &[SettingLine]) -> Table {
    let line = |setting: &SettingLine| {
        row(vec![
            cell(&setting.name),
            Cell {
                words: setting.value.clone(),
                note: setting
                    .default
                    .as_ref()
                    .map_or_else(String::new, |default| format!("changed; default {default}")),
                is_strong: setting.default.is_some(),
            },
            cell(&setting.words),
        ])
    };
    Table {
        columns: vec![
            words("Setting", 3),
            words("Value", 2),
            words("What it decides", 5),
        ],
        rows: settings.iter().map(line).collect(),
    }
}

fn provenance(provenance: &Provenance) -> Table {
    let file = |file: &str, role: &str, size: String, sha256: &str| -> Row {
        row(vec![cell(file), cell(role), cell(size), cell(sha256)])
    };
    let mut rows = vec![
        file(
            &provenance.pipeline.0,
            "pipeline",
            "–".to_owned(),
            &provenance.pipeline.1,
        ),
        file(
            &provenance.layout.0,
            "layout",
            "–".to_owned(),
            &provenance.layout.1,
        ),
    ];
    rows.extend(
        provenance
            .inputs
            .iter()
            .map(|(name, bytes, sha256)| file(name, "export", wording::file_size(*bytes), sha256)),
    );
    let code_tables = provenance.code_tables.iter();
    rows.extend(
        code_tables.map(|(table, sha256)| file(table, "code table", "–".to_owned(), sha256)),
    );
    Table {
        columns: vec![
            words("File", 3),
            words("Role", 0),
            numbers("Size", 0),
            words("SHA-256", 4),
        ],
        rows,
    }
}
