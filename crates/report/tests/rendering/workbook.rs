//! The workbook, opened again with a reader that shares no code with its writer.

use crate::{fixture, hostile, privacy};
use calamine::{Data, DataType, Range, Reader, Xlsx};
use outcomes::report::{Audience, Report};
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};

const AUDIENCES: [Audience; 3] = [Audience::Clinic, Audience::Auditor, Audience::Public];

pub(crate) type Book = BTreeMap<String, Range<Data>>;

pub(crate) fn open(report: &Report) -> Book {
    let bytes = report::workbook(report).unwrap();
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    let names = book.sheet_names();
    names
        .into_iter()
        .map(|name| {
            let range = book.worksheet_range(&name).unwrap();
            (name, range)
        })
        .collect()
}

/// The cells of a sheet below a heading.
pub(crate) fn column(book: &Book, sheet: &str, heading: &str) -> Vec<Data> {
    let range = book
        .get(sheet)
        .unwrap_or_else(|| panic!("no sheet {sheet}"));
    let place = range
        .headers()
        .unwrap()
        .iter()
        .position(|title| title == heading)
        .unwrap_or_else(|| panic!("{sheet} has no column {heading}"));
    let below = range.rows().skip(1);
    below.map(|row| row[place].clone()).collect()
}

/// A cell as report.json would say it: a number, the word for a hidden count, or nothing.
fn as_json(cell: &Data) -> Value {
    match cell {
        Data::Empty => Value::Null,
        Data::String(word) if word == "suppressed" => Value::from("suppressed"),
        other => other
            .as_f64()
            .map_or_else(|| Value::from(other.to_string()), Value::from),
    }
}

/// A figure of report.json in the same form: counts without their wrapping, every number as a float.
pub(crate) fn plain(figure: &Value) -> Value {
    let inner = figure.get("shown").unwrap_or(figure);
    inner.as_f64().map_or_else(|| inner.clone(), Value::from)
}

/// Everything at a path of report.json, `*` for each item of a list; what is missing is null.
pub(crate) fn at<'v>(value: &'v Value, path: &str) -> Vec<&'v Value> {
    let Some((first, rest)) = path.split_once('.') else {
        return step(value, path);
    };
    step(value, first)
        .into_iter()
        .flat_map(|inner| at(inner, rest))
        .collect()
}

fn step<'v>(value: &'v Value, key: &str) -> Vec<&'v Value> {
    match key {
        "*" => value
            .as_array()
            .map_or(Vec::new(), |items| items.iter().collect()),
        key => {
            let place = key.parse::<usize>().ok().and_then(|place| value.get(place));
            vec![value.get(key).or(place).unwrap_or(&Value::Null)]
        }
    }
}

fn json(report: &Report) -> Value {
    serde_json::from_str(&report::json(report).unwrap()).unwrap()
}

/// Sheet, heading and the place in report.json whose figures stand there, in the same order.
const PLACES: [(&str, &str, &str); 40] = [
    (
        "Front page",
        "Value",
        "front_page.headlines.*.result.value.estimate",
    ),
    (
        "Front page",
        "Lower limit",
        "front_page.headlines.*.result.value.interval.lower",
    ),
    (
        "Front page",
        "Upper limit",
        "front_page.headlines.*.result.value.interval.upper",
    ),
    (
        "Front page",
        "Numerator",
        "front_page.headlines.*.result.numerator",
    ),
    (
        "Front page",
        "Denominator",
        "front_page.headlines.*.result.denominator",
    ),
    (
        "Front page by quarter",
        "Value",
        "front_page.headlines.*.trend.*.estimate",
    ),
    (
        "Front page by quarter",
        "Lower limit",
        "front_page.headlines.*.trend.*.lower",
    ),
    (
        "Front page by quarter",
        "Upper limit",
        "front_page.headlines.*.trend.*.upper",
    ),
    (
        "Front page by quarter",
        "n",
        "front_page.headlines.*.trend.*.n",
    ),
    (
        "All results",
        "Value",
        "families.*.measures.*.results.*.value.estimate",
    ),
    (
        "All results",
        "Upper limit",
        "families.*.measures.*.results.*.value.interval.upper",
    ),
    (
        "All results",
        "Level",
        "families.*.measures.*.results.*.value.interval.level",
    ),
    (
        "All results",
        "Numerator",
        "families.*.measures.*.results.*.numerator",
    ),
    (
        "All results",
        "Denominator",
        "families.*.measures.*.results.*.denominator",
    ),
    (
        "All results",
        "Outcome unknown",
        "families.*.measures.*.results.*.n_unknown",
    ),
    (
        "All results",
        "Lowest possible",
        "families.*.measures.*.results.*.bounds.lowest",
    ),
    (
        "All results",
        "Highest possible",
        "families.*.measures.*.results.*.bounds.highest",
    ),
    ("From rows to cohorts", "How many", "flow.*.n"),
    ("Row accounts", "Size", "accounts.*.bytes"),
    ("Row accounts", "Rows read", "accounts.*.n_read"),
    ("Row accounts", "Rows used", "accounts.*.n_used"),
    ("Rows set aside", "Rows", "accounts.*.set_aside.*.1"),
    ("Findings", "Times", "findings.*.n"),
    ("Trends", "Value", "figures.*.points.*.estimate"),
    ("Control charts", "Centre", "figures.*.points.*.centre"),
    ("Side by side", "Value", "figures.*.rows.*.value.estimate"),
    ("Side by side", "n", "figures.*.rows.*.n"),
    ("Side by side", "Events", "figures.*.rows.*.n_events"),
    ("Sites and clinicians", "n", "figures.*.units.*.n"),
    (
        "Sites and clinicians",
        "Value",
        "figures.*.units.*.value.estimate",
    ),
    ("Movements", "n", "figures.*.flows.*.n"),
    ("Is it chance", "Series", "monitoring.series.*.title"),
    (
        "Results by stratum",
        "Value",
        "families.*.measures.*.splits.*.results.*.value.estimate",
    ),
    (
        "Results by stratum",
        "Denominator",
        "families.*.measures.*.splits.*.results.*.denominator",
    ),
    ("Strata", "Title", "families.*.measures.*.splits.*.title"),
    (
        "How much rules decide",
        "Difference",
        "sensitivity.*.changed.*.difference",
    ),
    (
        "How much rules decide",
        "Value under the alternative",
        "sensitivity.*.changed.*.alternative.value.estimate",
    ),
    (
        "Who was followed",
        "How many",
        "cohort_table.groups.*.rows.*.cells.*.n",
    ),
    ("Reporting statements", "Where", "checklist.*.answer"),
    (
        "Changes by cause",
        "Restated",
        "changes.counts.*.n_restated",
    ),
];

/// Figures of a kind, so that a path does not meet another kind's field of the same name.
fn of_kind(report: &Value, kind: &str) -> Value {
    let figures = at(report, "figures.*");
    let wanted = figures
        .into_iter()
        .filter(|figure| figure["kind"] == kind)
        .cloned();
    serde_json::json!({ "figures": wanted.collect::<Vec<_>>() })
}

fn kind_of(sheet: &str) -> Option<&'static str> {
    match sheet {
        "Trends" => Some("quarterly-trend"),
        "Control charts" => Some("control-chart"),
        "Side by side" => Some("forest"),
        "Sites and clinicians" => Some("funnel"),
        "Movements" => Some("movement"),
        _ => None,
    }
}

#[test]
fn every_figure_of_the_tables_is_the_one_of_the_data() {
    for audience in AUDIENCES {
        let report = fixture::report(audience);
        let (book, all) = (open(&report), json(&report));
        for (sheet, heading, path) in PLACES {
            let part = kind_of(sheet).map_or_else(|| all.clone(), |kind| of_kind(&all, kind));
            let expected: Vec<Value> = at(&part, path).into_iter().map(plain).collect();
            let is_missing = expected.is_empty() && !book.contains_key(sheet);
            if is_missing {
                continue;
            }
            let found: Vec<Value> = column(&book, sheet, heading).iter().map(as_json).collect();
            assert_eq!(found, expected, "{audience}: {sheet}, {heading}");
        }
    }
}

#[test]
fn every_figure_that_changed_since_the_last_report_is_there_as_then_and_as_now() {
    let report = fixture::report(Audience::Auditor);
    let (book, all) = (open(&report), json(&report));
    for (heading, end) in [
        ("Then", "before.value.estimate"),
        ("Now", "after.value.estimate"),
    ] {
        let kinds = ["restatements", "others"].map(|kind| format!("changes.{kind}.*.{end}"));
        let expected: Vec<Value> = kinds
            .iter()
            .flat_map(|path| at(&all, path))
            .map(plain)
            .collect();
        let found = column(&book, "Changed figures", heading);
        assert_eq!(found.iter().map(as_json).collect::<Vec<_>>(), expected);
    }
    let said = column(&book, "What changed, in words", "Sentence");
    let expected = ["changes.sentences.*", "changes.differences.*"];
    let expected: Vec<&Value> = expected.iter().flat_map(|path| at(&all, path)).collect();
    assert_eq!(
        said.iter()
            .map(as_json)
            .collect::<Vec<_>>()
            .iter()
            .collect::<Vec<_>>(),
        expected
    );
}

#[test]
fn every_step_of_every_curve_and_every_number_at_risk_is_there() {
    let report = fixture::report(Audience::Auditor);
    let (book, all) = (open(&report), json(&report));
    let mut steps = Vec::new();
    let mut at_risk = Vec::new();
    for figure in at(&all, "figures.*") {
        let curves = match figure["kind"].as_str().unwrap() {
            "cumulative-incidence" => "curves.*.points.*.estimate",
            "incidence-stack" => "layers.*.points.*.estimate",
            "interval-beside" => "conventional.points.*.estimate",
            "small-multiples" => "panels.*.curves.*.points.*.estimate",
            _ => continue,
        };
        steps.extend(at(figure, curves).into_iter().map(plain));
        let counts = match figure["kind"].as_str().unwrap() {
            "cumulative-incidence" | "incidence-stack" => "at_risk.*.counts.*",
            "small-multiples" => "panels.*.at_risk.*",
            _ => continue,
        };
        at_risk.extend(at(figure, counts).into_iter().map(plain));
    }
    let cells = |sheet, heading| -> Vec<Value> {
        column(&book, sheet, heading).iter().map(as_json).collect()
    };
    assert!(steps.len() > 20 && at_risk.len() > 20);
    assert_eq!(cells("Curves", "Value"), steps);
    assert_eq!(cells("Numbers at risk", "At risk"), at_risk);
}

#[test]
fn numbers_are_numbers_dates_are_dates_and_there_is_no_formula() {
    let report = fixture::report(Audience::Clinic);
    let book = open(&report);
    let values = column(&book, "All results", "Value");
    assert!(values.iter().all(|cell| cell.is_float() || cell.is_empty()));
    let dates = column(&book, "All results", "Mature from");
    let first = dates.iter().find(|cell| !cell.is_empty()).unwrap();
    // A workbook counts days from the end of 1899.
    let day = fixture::date(2026, 1, 20) - fixture::date(1899, 12, 30);
    assert!(matches!(first, Data::DateTime(date) if date.as_f64() == day.num_days() as f64));
    let bytes = report::workbook(&report).unwrap();
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    for name in book.sheet_names() {
        assert!(book.worksheet_formula(&name).unwrap().is_empty(), "{name}");
    }
}

#[test]
fn the_action_list_is_in_the_clinic_copy_alone_and_a_hidden_count_is_a_word() {
    let clinic = fixture::report(Audience::Clinic);
    for audience in AUDIENCES {
        let book = open(&Report {
            audience,
            ..clinic.clone()
        });
        let words: Vec<String> = book
            .values()
            .flat_map(|sheet| sheet.cells())
            .map(|(_, _, cell)| cell.to_string())
            .collect();
        let names_people = words.iter().any(|word| word.contains("TW-00042"));
        assert_eq!(names_people, audience == Audience::Clinic);
        assert_eq!(
            book.contains_key("Who needs attention"),
            audience == Audience::Clinic
        );
    }
    let book = open(&privacy::hidden());
    for heading in ["Numerator", "Denominator", "Outcome unknown"] {
        let cells = column(&book, "All results", heading);
        assert!(
            cells
                .iter()
                .all(|cell| cell == &Data::String("suppressed".into())),
            "{heading}"
        );
    }
    assert!(
        column(&book, "All results", "Value")
            .iter()
            .all(DataType::is_empty)
    );
}

/// Every part of the packed file as text.
fn parts(bytes: Vec<u8>) -> Vec<(String, String)> {
    let mut book: zip::ZipArchive<_> = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    (0..book.len())
        .map(|place| {
            let mut part = book.by_index(place).unwrap();
            let mut text = String::new();
            part.read_to_string(&mut text).unwrap();
            (part.name().unwrap().into_owned(), text)
        })
        .collect()
}

#[test]
fn words_of_an_export_stay_words() {
    let hostile_words = [
        "=HYPERLINK(\"http://x\",\"y\")",
        "+1+1",
        "-2+3",
        "@SUM(A1)",
        "\t=1+1",
        "</t></is><f>1+1</f>",
        "a\u{202e}b\u{0}c",
        "_x0041_",
    ];
    for text in hostile_words {
        let report = hostile::poisoned(text);
        let book = open(&report);
        let expected = text
            .replace('\u{202e}', "⟨U+202E⟩")
            .replace('\u{0}', "⟨U+0000⟩");
        let practice = book["Read me"].get_value((0, 0)).unwrap().to_string();
        assert_eq!(practice, expected);
        let strata = column(&book, "All results", "Stratum");
        assert!(
            strata.iter().all(|cell| cell.to_string() == expected),
            "{text}"
        );
        for (name, part) in parts(report::workbook(&report).unwrap()) {
            assert!(
                !part.contains("<f>") && !part.contains("<f "),
                "{text} in {name}"
            );
            let is_link_out = name.ends_with(".rels") && part.contains("TargetMode");
            assert!(!is_link_out, "{text} in {name}");
            roxmltree::Document::parse(&part).unwrap();
        }
    }
}

#[test]
fn a_text_of_forty_thousand_characters_is_cut_to_what_a_cell_holds() {
    let book = open(&hostile::poisoned(&"W".repeat(40_000)));
    let strata = column(&book, "All results", "Stratum");
    assert!(
        strata
            .iter()
            .all(|cell| cell.to_string().chars().count() == 30_001)
    );
}

#[test]
fn the_same_report_gives_the_same_bytes_and_an_empty_one_a_workbook() {
    let report = fixture::report(Audience::Auditor);
    assert!(report::workbook(&report).unwrap() == report::workbook(&report.clone()).unwrap());
    let empty = Report {
        families: Vec::new(),
        figures: Vec::new(),
        action_list: Vec::new(),
        flow: Vec::new(),
        accounts: Vec::new(),
        findings: Vec::new(),
        completeness: Vec::new(),
        settings: Vec::new(),
        rules: Vec::new(),
        ..report
    };
    assert!(open(&empty).contains_key("Read me"));
}

#[test]
fn every_heading_has_a_note_and_every_sheet_a_filter_and_a_frozen_heading() {
    let parts = parts(report::workbook(&fixture::report(Audience::Clinic)).unwrap());
    let sheets: Vec<&str> = parts
        .iter()
        .filter(|(name, _)| name.starts_with("xl/worksheets/sheet"))
        .map(|(_, text)| text.as_str())
        .collect();
    let n_filters = sheets
        .iter()
        .filter(|text| text.contains("<autoFilter"))
        .count();
    let n_frozen = sheets
        .iter()
        .filter(|text| text.contains("state=\"frozen\""))
        .count();
    let n_notes = parts
        .iter()
        .filter(|(name, _)| name.starts_with("xl/comments"))
        .count();
    assert!(sheets.len() > 20);
    assert_eq!([n_filters, n_frozen, n_notes], [sheets.len() - 1; 3]);
}
