//! The other formats of the sample practice's report: the same numbers as report.json, for each audience.

use crate::support::{Folder, limbledger, names_below, root, said};
use calamine::{Data, DataType, Reader, Xlsx};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Runs the sample pipeline with more lines under `[report]`, in a folder of its own.
fn run_with(folder: &Path, lines: &str) -> PathBuf {
    let at_root = |path: &str| {
        root()
            .join(path)
            .canonicalize()
            .unwrap()
            .display()
            .to_string()
    };
    let text = std::fs::read_to_string(root().join("pipelines/quarterly.toml")).unwrap();
    let text = text
        .replace(
            "layouts/tarnwick-wide.toml",
            &at_root("pipelines/layouts/tarnwick-wide.toml"),
        )
        .replace(
            "../sample-data/tarnwick-visits.csv",
            &at_root("sample-data/tarnwick-visits.csv"),
        )
        .replace("[report]\n", &format!("[report]\n{lines}\n"));
    std::fs::create_dir_all(folder).unwrap();
    let pipeline = folder.join("formats.toml");
    std::fs::write(&pipeline, text).unwrap();
    let out = folder.join("run");
    let output = limbledger([
        "run".as_ref(),
        pipeline.as_os_str(),
        "--out".as_ref(),
        out.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    out
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// Every result of every measure, in order.
fn results(report: &Value) -> Vec<&Value> {
    let families = report["families"].as_array().unwrap().iter();
    let sheets = families.flat_map(|family| family["measures"].as_array().unwrap());
    sheets
        .flat_map(|sheet| sheet["results"].as_array().unwrap())
        .collect()
}

/// A count or number of report.json; `None` where it is hidden or missing.
fn number(value: &Value) -> Option<f64> {
    value.get("shown").unwrap_or(value).as_f64()
}

/// From a result of the report to one of its figures.
type Reading = fn(&Value) -> &Value;

#[test]
fn the_workbook_of_each_audience_holds_the_results_of_its_report() {
    let folder = Folder::new("workbook");
    let out = run_with(&folder.path("sample"), "workbook = true");
    for audience in ["clinic", "auditor", "public"] {
        let report = json(&out.join(audience).join("report.json"));
        let mut book: Xlsx<_> =
            calamine::open_workbook(out.join(audience).join("report.xlsx")).unwrap();
        let sheet = book.worksheet_range("All results").unwrap();
        let headers = sheet.headers().unwrap();
        let results = results(&report);
        assert_eq!(sheet.height(), results.len() + 1);
        let figures: [(&str, Reading); 4] = [
            ("Value", |result| &result["value"]["estimate"]),
            ("Lower limit", |result| {
                let lower = &result["value"]["interval"]["lower"];
                if lower.is_null() {
                    &result["value"]["lower"]
                } else {
                    lower
                }
            }),
            ("Numerator", |result| &result["numerator"]),
            ("Denominator", |result| &result["denominator"]),
        ];
        for (heading, pick) in figures {
            let place = headers.iter().position(|title| title == heading).unwrap();
            let found: Vec<Option<f64>> = sheet
                .rows()
                .skip(1)
                .map(|row| row[place].as_f64())
                .collect();
            let expected: Vec<Option<f64>> =
                results.iter().map(|result| number(pick(result))).collect();
            assert_eq!(found, expected, "{audience}: {heading}");
        }
        let has_people = book
            .sheet_names()
            .iter()
            .any(|name| name == "Who needs attention");
        assert_eq!(has_people, audience == "clinic");
        let is_hidden = |cell: &Data| cell == &Data::String("suppressed".into());
        let n_hidden = sheet
            .rows()
            .flatten()
            .filter(|cell| is_hidden(cell))
            .count();
        assert_eq!(n_hidden > 0, audience == "public");
    }
}

/// The sample run with its tables in every format, made once for the tests that read it; it stays in the build folder.
fn run_with_tables() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sample-tables");
        run_with(&folder, "tables = [\"csv\", \"parquet\", \"arrow\"]")
    })
}

#[test]
fn data_files_hold_the_results_and_rows_of_people_stay_out_of_the_public_folder() {
    let out = run_with_tables();
    let names = names_below(out);
    for audience in ["clinic", "auditor", "public"] {
        let data = out.join(audience).join("data");
        let report = json(&out.join(audience).join("report.json"));
        let mut results_csv = csv::Reader::from_path(data.join("results.csv")).unwrap();
        let headers = results_csv.headers().unwrap().clone();
        let place = |name: &str| headers.iter().position(|title| title == name).unwrap();
        let rows: Vec<csv::StringRecord> = results_csv.records().map(Result::unwrap).collect();
        let results = results(&report);
        assert_eq!(rows.len(), results.len());
        for (row, result) in rows.iter().zip(results) {
            let found = |name| row[place(name)].parse::<f64>().ok();
            assert_eq!(found("value"), number(&result["value"]["estimate"]));
            assert_eq!(found("denominator"), number(&result["denominator"]));
            assert_eq!(found("highest"), number(&result["bounds"]["highest"]));
        }
        let starts = |end: &str| format!("{audience}/data/{end}");
        let has = |end: &str| names.iter().any(|name| name.starts_with(&starts(end)));
        assert!(has("results.parquet") && has("results.arrow") && has("dictionary.html"));
        assert_eq!(has("rows/"), audience != "public");
        assert_eq!(has("action-list"), audience == "clinic");
    }
    let people = names.iter().filter(|name| name.starts_with("public/"));
    for name in people {
        let bytes = std::fs::read(out.join(name)).unwrap();
        let has_pseudonym = bytes.windows(5).any(|window| window == b"TW-00");
        assert!(!has_pseudonym, "{name} names a person");
    }
}

#[test]
fn rows_of_people_agree_with_the_accounts_and_with_each_other() {
    let out = run_with_tables();
    let read = |table: &str| -> Vec<std::collections::BTreeMap<String, String>> {
        let path = out.join("auditor/data/rows").join(format!("{table}.csv"));
        let mut reader = csv::Reader::from_path(path).unwrap();
        reader.deserialize().map(Result::unwrap).collect()
    };
    let report = json(&out.join("auditor/report.json"));
    let tallied = report["findings"].as_array().unwrap().iter();
    let n_findings: u64 = tallied
        .map(|tally| tally["n"]["shown"].as_u64().unwrap())
        .sum();
    assert_eq!(read("findings").len() as u64, n_findings);
    let ulcers = read("ulcer-episodes");
    assert!(ulcers.len() > 100);
    for ulcer in &ulcers {
        let (index, open, closed) = (&ulcer["index"], &ulcer["last_open"], &ulcer["first_closed"]);
        assert!(index <= open, "ISO dates sort as text");
        assert!(
            closed.is_empty() || open < closed,
            "healing lies between two visits"
        );
        assert_eq!(
            ulcer["end"] == "healed",
            !closed.is_empty() && *closed == ulcer["end_date"]
        );
        assert!(
            ulcer["sinbad_lowest"].parse::<u8>().unwrap()
                <= ulcer["sinbad_highest"].parse().unwrap()
        );
    }
    let n_ulcers: u64 = read("persons")
        .iter()
        .map(|person| person["ulcers"].parse::<u64>().unwrap())
        .sum();
    let surgical = ulcers
        .iter()
        .filter(|ulcer| ulcer["surgical_wound"] == "true")
        .count() as u64;
    assert_eq!(n_ulcers + surgical, ulcers.len() as u64);
    let n_visits: u64 = read("persons")
        .iter()
        .map(|person| person["visits"].parse::<u64>().unwrap())
        .sum();
    assert_eq!(n_visits, read("visits").len() as u64);
}
