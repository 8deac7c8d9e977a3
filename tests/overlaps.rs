//! The practice exports again a year later: what was corrected counts once, and nothing counts twice.

use crate::support::{Folder, limbledger, root, said};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Position of a column in the sample export.
fn column(header: &str, name: &str) -> usize {
    header.split(',').position(|known| known == name).unwrap()
}

/// A date of the sample export in ISO order, so that it can be compared as text.
fn iso(day_first: &str) -> String {
    let parts: Vec<&str> = day_first.split('/').collect();
    let [day, month, year] = parts[..] else {
        return String::new();
    };
    format!("{year}-{month:0>2}-{day:0>2}")
}

/// A pipeline over these files, each with the day of its export.
pub(crate) fn pipeline(folder: &Folder, name: &str, files: &[(&str, &str)]) -> PathBuf {
    let text = std::fs::read_to_string(root().join("pipelines/quarterly.toml")).unwrap();
    let layouts = root().join("pipelines/layouts/tarnwick-wide.toml");
    let listed: Vec<String> = files
        .iter()
        .map(|(file, day)| format!("[[export.file]]\npath = \"{file}\"\nexported = {day}\n"))
        .collect();
    let text = text
        .replace(
            "[[export.file]]\npath = \"../sample-data/tarnwick-visits.csv\"\n",
            &listed.concat(),
        )
        .replace("layouts/tarnwick-wide.toml", &layouts.to_string_lossy())
        .replace("\"clinic\", \"auditor\", \"public\"", "\"clinic\"");
    folder.write(name, &text)
}

pub(crate) fn reported(pipeline: &Path, out: &Path) -> (Value, Value) {
    let output = limbledger([
        "run".as_ref(),
        pipeline.as_os_str(),
        "--out".as_ref(),
        out.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let json =
        |name: &str| serde_json::from_slice(&std::fs::read(out.join(name)).unwrap()).unwrap();
    (json("clinic/report.json"), json("manifest.json"))
}

#[test]
fn a_second_export_that_corrects_healing_dates_gives_the_corrected_report_once() {
    let folder = Folder::new("overlap");
    let sample = std::fs::read_to_string(root().join("sample-data/tarnwick-visits.csv")).unwrap();
    let mut rows = sample.lines();
    let header = rows.next().unwrap();
    let (seen, state) = (column(header, "vis_date"), column(header, "w1_state"));
    // the first export ends with 2024, and holds as closed what was later corrected to open
    let mut first = format!("{header}\n");
    let mut n_corrected = 0;
    for row in rows.clone() {
        let mut cells: Vec<&str> = row.split(',').collect();
        if iso(cells[seen]).as_str() > "2024-12-31" || iso(cells[seen]).is_empty() {
            continue;
        }
        if cells[state] == "O" && n_corrected < 200 {
            cells[state] = "C";
            n_corrected += 1;
        }
        first.push_str(&cells.join(","));
        first.push('\n');
    }
    assert_eq!(n_corrected, 200);
    folder.write("first.csv", &first);
    folder.write("second.csv", &sample);
    let both = pipeline(
        &folder,
        "both.toml",
        &[("first.csv", "2025-01-05"), ("second.csv", "2026-01-05")],
    );
    let alone = pipeline(&folder, "alone.toml", &[("second.csv", "2026-01-05")]);
    let (both, manifest) = reported(&both, &folder.path("both"));
    let (alone, _) = reported(&alone, &folder.path("alone"));
    for part in [
        "front_page",
        "families",
        "figures",
        "monitoring",
        "action_list",
    ] {
        let (both, alone) = (without_sources(&both[part]), without_sources(&alone[part]));
        assert!(
            both == alone,
            "{part}: {:?}",
            first_difference(&both, &alone)
        );
    }
    let superseded = manifest["accounts"][0]["set_aside"]
        .as_array()
        .unwrap()
        .iter()
        .find(|reason| reason[0] == "superseded-row")
        .unwrap();
    // a few of the 200 rows are repeats or unusable for other reasons
    assert!((190..=200).contains(&superseded[1].as_u64().unwrap()));
}

/// A value without the rows it was made from: those lie in other files.
pub(crate) fn without_sources(value: &Value) -> Value {
    match value {
        Value::Object(entries) => entries
            .iter()
            .filter(|(key, _)| *key != "trace")
            .map(|(key, value)| (key.clone(), without_sources(value)))
            .collect(),
        Value::Array(items) => items.iter().map(without_sources).collect(),
        other => other.clone(),
    }
}

/// Where two values differ first.
pub(crate) fn first_difference(left: &Value, right: &Value) -> Option<String> {
    let below = |key: String, left: &Value, right: &Value| {
        first_difference(left, right).map(|place| format!("{key}/{place}"))
    };
    match (left, right) {
        (Value::Object(entries), Value::Object(_)) => entries
            .iter()
            .find_map(|(key, value)| below(key.clone(), value, &right[key])),
        (Value::Array(items), Value::Array(others)) if items.len() == others.len() => items
            .iter()
            .zip(others)
            .enumerate()
            .find_map(|(place, (item, other))| below(place.to_string(), item, other)),
        _ => (left != right).then(|| format!("{left} or {right}")),
    }
}
