//! What the pages say, as data for the template: words, tables and drawings in reading order.

use super::block::{Block, Picture, Table, section};
use super::{attention, changes, making, method, research, sheets, versions, watch};
use crate::chart::{self, Room};
use crate::page::{BANNER, audience_words, capitalised, fraction, interval_words, unknown_words};
use crate::{RenderError, wording};
use chrono::Datelike;
use outcomes::report::{Audience, Family, Figure, Headline, MeasureSheet, Report};
use serde::Serialize;

/// What is left out on paper; the page has it a click away.
const LEFT_OUT: &str = "Left out on paper, and a click away in report.html: the numbers behind each chart, the definition of each measure, earlier cohorts and strata. The auditor’s copy prints all of them but the numbers behind the charts.";
const LEFT_OUT_FOR_THE_AUDITOR: &str = "Left out on paper, and a click away in report.html: the numbers behind each chart, and how complete each field is by quarter.";

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
    left_out: &'static str,
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
    expectation: Option<String>,
    reading: String,
}

/// The document of a report.
pub(super) fn content(report: &Report) -> Result<Content, RenderError> {
    let mut drawings = Vec::new();
    let cards = report
        .front_page
        .headlines
        .iter()
        .map(|headline| card(headline, &mut drawings))
        .collect::<Result<Vec<_>, _>>()?;
    let blocks = blocks(report, &mut drawings)?;
    let is_clinic = report.audience == Audience::Clinic;
    let (attention, attention_note) = if is_clinic {
        attention::on_the_front(report)
    } else {
        (None, String::new())
    };
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
                attention,
                attention_note,
            },
            left_out: if report.audience == Audience::Auditor {
                LEFT_OUT_FOR_THE_AUDITOR
            } else {
                LEFT_OUT
            },
            blocks,
        },
        drawings,
    })
}

/// Everything after the front, in the order of the page.
fn blocks(
    report: &Report,
    drawings: &mut Vec<(String, String)>,
) -> Result<Vec<Block>, RenderError> {
    let mut blocks = Vec::new();
    if let Some(changes) = &report.changes {
        changes::section_of(changes, &mut blocks);
    }
    if report.audience == Audience::Clinic {
        attention::section_of(report, &mut blocks);
    }
    watch::section_of(&report.monitoring, &mut blocks);
    for family in &report.families {
        blocks.push(section(&family.title));
        blocks.push(Block::Lead {
            words: family.lead.clone(),
        });
        for figure in &report.figures {
            if figure.frame().family == family.id {
                blocks.push(Block::Figure(picture(figure, drawings)?));
            }
        }
        measures(family, report.audience, &mut blocks);
    }
    let is_homeless = |figure: &&Figure| {
        report
            .families
            .iter()
            .all(|family| family.id != figure.frame().family)
    };
    let homeless: Vec<&Figure> = report.figures.iter().filter(is_homeless).collect();
    if !homeless.is_empty() {
        blocks.push(section("Other figures"));
    }
    for figure in homeless {
        blocks.push(Block::Figure(picture(figure, drawings)?));
    }
    making::section_of(report, &mut blocks);
    research::section_of(report, &mut blocks);
    method::sections(report, &mut blocks);
    Ok(blocks)
}

/// Every measure of a family that stands by itself, and under it what it comes to by another rule.
fn measures(family: &Family, audience: Audience, blocks: &mut Vec<Block>) {
    let is_main = |sheet: &&MeasureSheet| {
        let main = sheet.version_of.as_ref();
        main.is_none_or(|main| family.measures.iter().all(|other| other.id != *main))
    };
    if family.measures.is_empty() {
        blocks.push(super::block::paragraph(
            "No measure of this family is part of this report.",
        ));
    }
    for sheet in family.measures.iter().filter(is_main) {
        sheets::sheet(sheet, audience, blocks);
        let of_this = |other: &&MeasureSheet| other.version_of.as_ref() == Some(&sheet.id);
        let others: Vec<&MeasureSheet> = family.measures.iter().filter(of_this).collect();
        versions::table_of(&others, blocks);
        if audience == Audience::Auditor {
            for version in others {
                sheets::sheet(version, audience, blocks);
            }
        }
    }
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
        people: capitalised(&format!("{}{of}{}", result.cohort, unknown_words(result))),
        drawing,
        drawing_words: format!("{}, by quarter. {}", headline.title, said.join("; ")),
        expectation: headline.expectation.clone(),
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
