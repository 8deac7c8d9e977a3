//! What the pages say, as data for the template: words, tables and drawings in reading order.

use super::{method, sheets};
use crate::chart::{self, Room};
use crate::page::{BANNER, audience_words, fraction, interval_words, unknown_words};
use crate::{RenderError, wording};
use chrono::Datelike;
use outcomes::report::{ActionItem, Audience, Figure, Headline, Report};
use serde::Serialize;

/// The whole document: what the template reads, and the drawings it names.
pub(super) struct Content {
    pub(super) paper: Paper,
    /// Name and SVG.
    pub(super) drawings: Vec<(String, String)>,
}

#[derive(Debug, Serialize)]
pub(super) struct Paper {
    title: String,
    practice: String,
    quarter: String,
    period: String,
    copy: &'static str,
    horizon: String,
    banner: &'static str,
    /// Year, month and day that the document bears: the last day the export is complete.
    date: [i32; 3],
    front: Front,
    blocks: Vec<Block>,
}

/// The first two pages.
#[derive(Debug, Serialize)]
struct Front {
    sentences: Vec<String>,
    cards: Vec<Card>,
    chance: String,
    attention: Option<Table>,
    attention_note: String,
}

#[derive(Debug, Serialize)]
struct Card {
    title: String,
    value: String,
    is_number: bool,
    interval: Option<String>,
    people: String,
    drawing: Option<String>,
    drawing_words: String,
    reading: String,
}

/// One thing on the page.
#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(super) enum Block {
    /// Begins a page.
    Section {
        words: String,
    },
    /// A part of a section.
    Heading {
        words: String,
    },
    /// A part of a part.
    Subheading {
        words: String,
    },
    Paragraph {
        words: String,
    },
    Lead {
        words: String,
    },
    Note {
        words: String,
    },
    Caution {
        words: String,
    },
    List {
        items: Vec<String>,
    },
    Terms {
        terms: Vec<Term>,
    },
    Table(Table),
    Figure(Picture),
}

/// A word and its meaning.
#[derive(Debug, Serialize)]
pub(super) struct Term {
    pub(super) word: String,
    pub(super) meaning: String,
}

#[derive(Debug, Serialize)]
pub(super) struct Picture {
    drawing: String,
    alt: String,
    title: String,
    caption: String,
}

#[derive(Debug, Serialize)]
pub(super) struct Table {
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<Row>,
}

#[derive(Debug, Serialize)]
pub(super) struct Column {
    words: String,
    is_number: bool,
    /// Share of the room that is left; 0 for as much as the widest cell needs.
    share: u8,
}

#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(super) enum Row {
    /// Heads the rows below it.
    Heading {
        words: String,
    },
    Cells {
        cells: Vec<Cell>,
    },
}

#[derive(Debug, Default, Serialize)]
pub(super) struct Cell {
    pub(super) words: String,
    pub(super) note: String,
    pub(super) is_strong: bool,
}

/// A cell of plain words.
pub(super) fn cell(words: impl Into<String>) -> Cell {
    Cell {
        words: words.into(),
        ..Cell::default()
    }
}

/// A row of cells.
pub(super) fn row(cells: Vec<Cell>) -> Row {
    Row::Cells { cells }
}

/// A column of words that takes this share of the room.
pub(super) fn words(heading: impl Into<String>, share: u8) -> Column {
    Column {
        words: heading.into(),
        is_number: false,
        share,
    }
}

/// A column of numbers, as wide as they are, or of a share of the room where words may stand in their place.
pub(super) fn numbers(heading: impl Into<String>, share: u8) -> Column {
    Column {
        words: heading.into(),
        is_number: true,
        share,
    }
}

/// Lines of the action list on the front pages and in its own section; report.json has them all.
const FRONT_LINES: usize = 8;
const SECTION_LINES: usize = 60;

/// The document of a report.
pub(super) fn content(report: &Report) -> Result<Content, RenderError> {
    let mut drawings = Vec::new();
    let cards = report
        .front_page
        .headlines
        .iter()
        .map(|headline| card(headline, &mut drawings))
        .collect::<Result<Vec<_>, _>>()?;
    let mut blocks = Vec::new();
    if report.audience == Audience::Clinic {
        attention(report, &mut blocks);
    }
    for family in &report.families {
        blocks.push(Block::Section {
            words: family.title.clone(),
        });
        blocks.push(Block::Lead {
            words: family.lead.clone(),
        });
        for figure in &report.figures {
            if figure.frame().family == family.id {
                blocks.push(Block::Figure(picture(figure, &mut drawings)?));
            }
        }
        for sheet in &family.measures {
            // Other versions of a measure are for the auditor; report.json has them in every copy.
            if sheet.version_of.is_none() || report.audience == Audience::Auditor {
                sheets::sheet(sheet, report.audience, &mut blocks);
            }
        }
    }
    method::sections(report, &mut blocks);
    let horizon = &report.horizon;
    let cut_off = horizon.cut_off;
    Ok(Content {
        paper: Paper {
            title: report.title.clone(),
            practice: report.practice.clone(),
            quarter: report.quarter.clone(),
            period: format!(
                "{} to {}",
                wording::date(report.quarter_start),
                wording::date(report.quarter_end)
            ),
            copy: audience_words(report.audience),
            horizon: format!(
                "Visits from {} to {}. Deaths known to {}, hospital procedures to {}.",
                wording::date(horizon.data_start),
                wording::date(cut_off),
                wording::date(horizon.deaths_known_to),
                wording::date(horizon.procedures_known_to)
            ),
            banner: BANNER,
            date: [cut_off.year(), cut_off.month() as i32, cut_off.day() as i32],
            front: Front {
                sentences: report.front_page.sentences.clone(),
                cards,
                chance: report.front_page.chance.clone(),
                attention: (report.audience == Audience::Clinic && !report.action_list.is_empty())
                    .then(|| action_table(&report.action_list, FRONT_LINES)),
                attention_note: remaining(report.action_list.len(), FRONT_LINES, "further on"),
            },
            blocks,
        },
        drawings,
    })
}

fn card(headline: &Headline, drawings: &mut Vec<(String, String)>) -> Result<Card, RenderError> {
    let result = &headline.result;
    let drawing = if headline.trend.is_empty() {
        None
    } else {
        let name = format!("trend-{}.svg", drawings.len() + 1);
        let svg = chart::sparkline(&headline.trend, result.unit, &headline.title, &name)?;
        drawings.push((name.clone(), svg));
        Some(name)
    };
    let said: Vec<String> = headline
        .trend
        .iter()
        .map(|point| {
            format!(
                "{}: {}",
                point.quarter,
                wording::trend_value(point, result.unit)
            )
        })
        .collect();
    let of = fraction(result).map_or_else(String::new, |of| format!(" · {of}"));
    Ok(Card {
        title: headline.title.clone(),
        value: wording::value(&result.value, result.unit),
        is_number: matches!(result.value, outcomes::report::Value::Known(_)),
        interval: interval_words(result),
        people: format!("{}{of}{}", result.cohort, unknown_words(result)),
        drawing,
        drawing_words: format!("{}, by quarter. {}", headline.title, said.join("; ")),
        reading: headline.reading.clone(),
    })
}

/// A figure as drawn for the page, with its words.
fn picture(figure: &Figure, drawings: &mut Vec<(String, String)>) -> Result<Picture, RenderError> {
    let frame = figure.frame();
    let name = format!("figure-{}.svg", drawings.len() + 1);
    let svg = chart::draw(figure, Room::Wide, &name)?;
    drawings.push((name.clone(), svg));
    Ok(Picture {
        drawing: name,
        alt: frame.alt.clone(),
        title: frame.title.clone(),
        caption: frame.caption.clone(),
    })
}

fn attention(report: &Report, blocks: &mut Vec<Block>) {
    blocks.push(Block::Section {
        words: "People who need attention".to_owned(),
    });
    blocks.push(Block::Lead {
        words: format!(
            "Each line is a fact from the records on {} and the rule that put it here, most urgent first. It is a prompt to look, not advice on treatment; the patient’s own record and the clinician’s judgement come first. Days are counted since the rule began to apply.",
            wording::date(report.horizon.cut_off)
        ),
    });
    if report.action_list.is_empty() {
        blocks.push(Block::Paragraph {
            words: "Nobody meets a rule of the action list.".to_owned(),
        });
        return;
    }
    blocks.push(Block::Table(action_table(
        &report.action_list,
        SECTION_LINES,
    )));
    let note = remaining(report.action_list.len(), SECTION_LINES, "in report.json");
    if !note.is_empty() {
        blocks.push(Block::Note { words: note });
    }
}

fn remaining(n_lines: usize, n_shown: usize, place: &str) -> String {
    if n_lines > n_shown {
        let more = wording::whole((n_lines - n_shown) as u64);
        format!("Further lines, {place}: {more}.")
    } else {
        String::new()
    }
}

fn action_table(items: &[ActionItem], n_shown: usize) -> Table {
    let line = |item: &ActionItem| {
        row(vec![
            Cell {
                words: item.patient.clone(),
                note: if item.is_urgent { "urgent" } else { "" }.to_owned(),
                is_strong: item.is_urgent,
            },
            cell(&item.place),
            Cell {
                words: item.reason.clone(),
                note: item.rule.clone(),
                is_strong: false,
            },
            cell(wording::whole(item.days.unsigned_abs())),
            cell(&item.clears_when),
            cell(&item.trace),
        ])
    };
    Table {
        columns: vec![
            words("Patient", 0),
            words("Place", 2),
            words("Why", 4),
            numbers("Days", 0),
            words("Clears when", 3),
            words("Row", 2),
        ],
        rows: items.iter().take(n_shown).map(line).collect(),
    }
}
