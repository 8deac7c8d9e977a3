//! Every figure on the page and on paper is the one of report.json, in the words of the one place that makes them.
//!
//! The page is read back from its markup and paper from the content that its template is given; both are looked up from
//! report.json alone.

use crate::fixture;
use outcomes::report::words::{limits, number, value_with_counts};
use outcomes::report::{Audience, Count, MeasureResult, Report, Unit, Value};
use serde_json::Value as Json;

pub(crate) const AUDIENCES: [Audience; 3] = [Audience::Clinic, Audience::Auditor, Audience::Public];

/// Marks taken out of a piece of a page, characters spelt out again.
fn plain(markup: &str) -> String {
    let mut words = String::new();
    let mut is_inside = false;
    for letter in markup.chars() {
        match letter {
            '<' => is_inside = true,
            '>' if is_inside => is_inside = false,
            _ if !is_inside => words.push(letter),
            _ => {}
        }
    }
    let spelt = [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&amp;", "&"),
    ];
    spelt
        .iter()
        .fold(words, |words, (code, letter)| words.replace(code, letter))
        .trim()
        .to_owned()
}

/// The rows of every table in a piece of a page, as the words of their cells.
fn rows(markup: &str) -> Vec<Vec<String>> {
    let rows = markup.split("<tr").skip(1);
    rows.map(|row| {
        let row = &row[..row.find("</tr>").unwrap()];
        let row = row.replace("<th", "\u{1}<th").replace("<td", "\u{1}<td");
        row.split('\u{1}').skip(1).map(plain).collect()
    })
    .collect()
}

/// The rows of every table on paper, each as its cells with their notes.
fn paper_rows(value: &Json, found: &mut Vec<Vec<String>>) {
    match value {
        Json::Array(items) => items.iter().for_each(|item| paper_rows(item, found)),
        Json::Object(fields) => match fields.get("cells").and_then(Json::as_array) {
            Some(cells) => {
                let words = |cell: &Json| {
                    let note = cell["note"].as_str().unwrap();
                    format!("{}{note}", cell["words"].as_str().unwrap())
                };
                found.push(cells.iter().map(words).collect());
            }
            None => fields.values().for_each(|field| paper_rows(field, found)),
        },
        _ => {}
    }
}

/// The invented report with an expectation beside its first headline.
pub(crate) fn made(audience: Audience) -> Report {
    let mut report = fixture::report(audience);
    let first = report.front_page.headlines.first_mut().unwrap();
    first.expectation = Some("46 of 100 would have been expected to heal.".into());
    if audience == Audience::Auditor {
        report.suppressions = vec![outcomes::disclose::SuppressionLine {
            measure: "healed-within-12-weeks".into(),
            cohort: "ulcers first seen in 2025 Q1".into(),
            stratum: "all".into(),
            what: "count".into(),
            reason: "small count".into(),
        }];
    }
    report
}

pub(crate) fn json(audience: Audience) -> Json {
    serde_json::from_str(&report::json(&made(audience)).unwrap()).unwrap()
}

fn paper(audience: Audience) -> Json {
    serde_json::from_str(&report::paper_words(&made(audience)).unwrap()).unwrap()
}

/// A result of report.json, read back as one.
pub(crate) fn result(value: &Json) -> MeasureResult {
    serde_json::from_value(value.clone()).unwrap()
}

/// The value in the words that a cell must hold, written down here apart from the renderer.
pub(crate) fn value_words(result: &MeasureResult) -> String {
    match &result.value {
        Value::Known(estimate) => outcomes::report::words::estimate(result.unit, estimate),
        Value::NotYet { .. } => "not yet: mature from".to_owned(),
        Value::NotEstimable { reason } => format!("not estimable: {reason}"),
        Value::NotReached { .. } => "not reached".to_owned(),
        Value::Suppressed => "suppressed".to_owned(),
    }
}

/// What a row must say of a result: value, limits, counts, unknown outcomes and bounds.
pub(crate) fn wanted(result: &MeasureResult) -> Vec<String> {
    let mut wanted = vec![value_words(result)];
    if let Value::Known(estimate) = &result.value {
        wanted.extend(limits(result.unit, estimate));
    }
    wanted.extend(match (result.numerator, result.denominator) {
        (Some(Count::Suppressed), Some(Count::Suppressed)) => Some("suppressed".to_owned()),
        (Some(numerator), Some(denominator)) => Some(format!("{numerator} of {denominator}")),
        (None, Some(denominator)) => Some(format!("n = {denominator}")),
        _ => None,
    });
    wanted.extend(result.n_unknown.map(|n| n.to_string()));
    wanted.extend(result.bounds.map(|bounds| {
        let say = |value| number(result.unit, value);
        format!("{} to {}", say(bounds.lowest), say(bounds.highest))
    }));
    wanted
}

/// Whether a row tells this result: its cohort or stratum in the first cell, each figure in a cell of its own further on.
fn tells(row: &[String], result: &MeasureResult) -> bool {
    let Some((first, cells)) = row.split_first() else {
        return false;
    };
    let is_named = first.contains(&result.stratum)
        || (result.stratum == "all" && first.contains(&result.cohort));
    let mut rest = cells.iter();
    is_named
        && wanted(result)
            .iter()
            .all(|words| rest.any(|cell| cell.starts_with(words)))
}

pub(crate) fn sheets(report: &Json) -> Vec<&Json> {
    let families = report["families"].as_array().unwrap();
    let measures = families
        .iter()
        .flat_map(|family| family["measures"].as_array());
    measures.flatten().collect()
}

pub(crate) fn results_of(sheet: &Json) -> Vec<MeasureResult> {
    let splits = sheet["splits"].as_array().unwrap();
    let of_splits = splits
        .iter()
        .flat_map(|split| split["results"].as_array().unwrap());
    let results = sheet["results"].as_array().unwrap().iter();
    results.chain(of_splits).map(result).collect()
}

#[test]
fn every_result_of_every_measure_stands_on_the_page() {
    for audience in AUDIENCES {
        let page = report::html(&made(audience)).unwrap();
        let report = json(audience);
        let mut n_checked = 0;
        for sheet in sheets(&report) {
            let anchor = format!("id=\"measure-{}\"", sheet["id"].as_str().unwrap());
            let article = &page[page.find(&anchor).unwrap()..];
            let rows = rows(&article[..article.find("</article>").unwrap()]);
            for result in results_of(sheet) {
                let found = rows.iter().any(|row| tells(row, &result));
                assert!(found, "{audience}: {result:?} in {rows:?}");
                n_checked += 1;
            }
        }
        assert!(n_checked > 20, "{audience}: {n_checked}");
    }
}

#[test]
fn every_result_on_paper_is_one_of_the_report_and_the_auditor_has_them_all() {
    for audience in AUDIENCES {
        let mut rows = Vec::new();
        paper_rows(&paper(audience), &mut rows);
        let report = json(audience);
        for sheet in sheets(&report) {
            let is_full = audience == Audience::Auditor;
            let newest = if is_full { usize::MAX } else { 8 };
            let results = if is_full {
                results_of(sheet)
            } else {
                sheet["results"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(result)
                    .collect()
            };
            for result in results.iter().take(newest) {
                let found = rows.iter().any(|row| tells(row, result));
                assert!(found, "{audience}: {result:?}");
            }
        }
    }
}

#[test]
fn headlines_and_their_expectations_say_the_same_on_page_and_paper() {
    for audience in AUDIENCES {
        let page = plain(&report::html(&made(audience)).unwrap());
        let (report, paper) = (json(audience), paper(audience));
        let headlines = report["front_page"]["headlines"].as_array().unwrap();
        let cards = paper["front"]["cards"].as_array().unwrap();
        assert_eq!(headlines.len(), cards.len());
        for (headline, card) in headlines.iter().zip(cards) {
            let result = result(&headline["result"]);
            assert!(
                card["value"]
                    .as_str()
                    .unwrap()
                    .starts_with(&value_words(&result))
            );
            assert!(page.contains(card["value"].as_str().unwrap()));
            if let Value::Known(estimate) = &result.value
                && let Some(limits) = limits(result.unit, estimate)
            {
                assert!(card["interval"].as_str().unwrap().ends_with(&limits));
                assert!(page.contains(&limits));
            }
            assert_eq!(headline["expectation"], card["expectation"]);
            if let Some(expectation) = headline["expectation"].as_str() {
                assert!(page.contains(expectation));
            }
        }
    }
}

/// Every text at these places of report.json, in order.
pub(crate) fn texts<'j>(report: &'j Json, places: &[&str]) -> Vec<&'j str> {
    let found = places
        .iter()
        .flat_map(|place| crate::workbook::at(report, place));
    found.filter_map(Json::as_str).collect()
}

#[test]
fn what_the_auditor_s_page_says_beside_the_measures_is_on_paper_too() {
    let places = [
        "front_page.sentences.*",
        "front_page.headlines.*.expectation",
        "changes.sentences.*",
        "changes.differences.*",
        "changes.counts.*.causes",
        "changes.restatements.*.before.measure",
        "changes.others.*.before.period",
        "monitoring.rules.*",
        "monitoring.series.*.title",
        "monitoring.series.*.finding",
        "figures.*.frame.title",
        "figures.*.frame.caption",
        "flow.*.label",
        "accounts.*.file",
        "findings.*.words",
        "completeness.*.field",
        "suppressions.*.reason",
        "sensitivity.*.rule",
        "sensitivity.*.words",
        "cohort_table.columns.*",
        "cohort_table.groups.*.title",
        "cohort_table.groups.*.rows.*.label",
        "cohort_table.groups.*.rows.*.cells.*.words",
        "checklist.*.asks",
        "checklist.*.answer",
        "settings.*.name",
        "settings.*.value",
        "rules.*.event",
        "glossary.*.1",
        "cautions.*",
        "provenance.inputs.*.0",
        "provenance.code_tables.*.0",
        "provenance.code_tables.*.1",
    ];
    let report = json(Audience::Auditor);
    let page = plain(&report::html(&made(Audience::Auditor)).unwrap());
    let paper = plain(&report::paper_words(&made(Audience::Auditor)).unwrap());
    for place in places {
        let texts = texts(&report, &[place]);
        assert!(!texts.is_empty(), "{place}");
        for text in texts {
            let quoted = text.replace('"', "\\\"");
            assert!(page.contains(&plain(text)), "page, {place}: {text}");
            assert!(paper.contains(&plain(&quoted)), "paper, {place}: {text}");
        }
    }
    let changed = crate::workbook::at(&report, "sensitivity.*.changed.*.alternative");
    let restated = crate::workbook::at(&report, "changes.restatements.*.after");
    for figure in changed.into_iter().chain(restated) {
        let said = value_with_counts(&result(figure));
        assert!(page.contains(&said) && paper.contains(&said), "{said}");
    }
}

#[test]
fn the_numbers_behind_a_chart_are_those_of_the_report() {
    for audience in AUDIENCES {
        let page = report::html(&made(audience)).unwrap();
        let report = json(audience);
        for figure in report["figures"].as_array().unwrap() {
            let anchor = format!("id=\"figure-{}\"", figure["frame"]["id"].as_str().unwrap());
            let drawn = &page[page.find(&anchor).unwrap()..];
            let rows = rows(&drawn[..drawn.find("</figure>").unwrap()]);
            let said: Vec<&String> = rows.iter().flatten().collect();
            for words in figure_words(figure) {
                assert!(
                    said.iter().any(|cell| cell.starts_with(&words)),
                    "{audience}, {}: {words} in {said:?}",
                    figure["frame"]["id"]
                );
            }
        }
    }
}

/// Counts and values of a figure in the words of its table, for the kinds whose tables print them as they are.
fn figure_words(figure: &Json) -> Vec<String> {
    let unit: Option<Unit> = serde_json::from_value(figure["unit"].clone()).ok();
    let said = |value: &Json| {
        let value = value.as_f64()?;
        Some(number(unit?, value))
    };
    let count = |value: &Json| match value.get("shown") {
        Some(n) => n.as_u64().map(|n| Count::Shown(n).to_string()),
        None => value.as_str().map(str::to_owned),
    };
    let numbers = [
        "points.*.estimate",
        "points.*.centre",
        "units.*.value.estimate",
    ];
    let counts = [
        "points.*.n",
        "quarters.*.n",
        "quarters.*.counts.*",
        "units.*.n",
        "rows.*.n",
        "rows.*.n_events",
        "flows.*.n",
        "at_risk.*.counts.*",
    ];
    let of = |places: &[&str]| -> Vec<Json> {
        let found = places
            .iter()
            .flat_map(|place| crate::workbook::at(figure, place));
        found.cloned().collect()
    };
    let numbers = of(&numbers).iter().filter_map(said).collect::<Vec<_>>();
    let counts = of(&counts).iter().filter_map(count).collect::<Vec<_>>();
    numbers.into_iter().chain(counts).collect()
}
