//! One practice through three doors: its plain tables, its HL7 FHIR R4 export and its Parquet export give the same report.

use crate::support::{Folder, limbledger, printed, root, said};
use serde_json::Value;
use std::path::Path;

fn pipeline(layout: &str, files: &[(String, Option<&str>)]) -> String {
    let layout = root().join("pipelines/layouts").join(layout);
    let files: String = files
        .iter()
        .map(|(path, role)| {
            let role = role.map_or(String::new(), |role| format!("role = \"{role}\"\n"));
            format!("[[export.file]]\npath = \"{path}\"\n{role}\n")
        })
        .collect();
    format!(
        "title = \"Two doors\"\npractice = \"Made-up\"\n[export]\nlayout = \"{}\"\n{files}[known]\ndata_start = 2023-01-01\ncut_off = 2025-12-31\n[report]\nquarter = \"2025Q4\"\naudiences = [\"auditor\"]\n",
        layout.display()
    )
}

fn report(pipeline: &Path, out: &Path) -> Value {
    let output = limbledger([
        "run".as_ref(),
        pipeline.as_os_str(),
        "--out".as_ref(),
        out.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    serde_json::from_slice(&std::fs::read(out.join("auditor/report.json")).unwrap()).unwrap()
}

/// The five kinds of plain file.
const ROLES: [&str; 5] = [
    "patients",
    "visits",
    "foot-exams",
    "ulcer-observations",
    "events",
];

/// A practice of a hundred, in a form beside the plain one.
fn simulated(folder: &Folder, form: &str) {
    let made = folder.path("made");
    let output = limbledger([
        "simulate".as_ref(),
        "--out".as_ref(),
        made.as_os_str(),
        "--patients".as_ref(),
        "100".as_ref(),
        "--seed".as_ref(),
        "5".as_ref(),
        form.as_ref(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
}

/// Every part of two reports but some is the same.
fn assert_alike(plain: &Value, other: &Value, differs: &[&str]) {
    let mut n_compared = 0;
    for (part, value) in plain.as_object().unwrap() {
        if !differs.contains(&part.as_str()) {
            assert!(value == &other[part], "{part} differs");
            n_compared += 1;
        }
    }
    assert!(n_compared >= 15);
    let results = plain["families"].to_string();
    assert!(results.len() > 100_000, "there is something to compare");
}

/// Every measure, figure and chart, every entry and every share of recorded fields. What must differ does: which files
/// were read, how many rows they have, and where a finding stands.
#[test]
fn every_measure_is_equal_between_plain_tables_and_fhir() {
    let folder = Folder::new("doors");
    simulated(&folder, "--fhir");
    let plain = ROLES.map(|role| (format!("made/long/{role}.csv"), Some(role)));
    let resources = [
        "Patient",
        "Encounter",
        "Appointment",
        "Condition",
        "Observation",
        "Procedure",
        "ServiceRequest",
        "DiagnosticReport",
    ]
    .map(|kind| (format!("made/fhir/{kind}.ndjson"), None));
    let plain = folder.write("plain.toml", &pipeline("tarnwick-long.toml", &plain));
    let fhir = folder.write("fhir.toml", &pipeline("tarnwick-fhir.toml", &resources));
    let plain = report(&plain, &folder.path("plain"));
    let fhir = report(&fhir, &folder.path("fhir"));
    let differs = ["accounts", "findings", "flow", "provenance"];
    assert_alike(&plain, &fhir, &differs);
}

/// With types of their own in the five plain files, and as text in the wide one, which is read by the same layout as its
/// delimited form. Findings are the same, too; files have other names and sizes.
#[test]
fn every_measure_is_equal_between_delimited_text_and_parquet() {
    let folder = Folder::new("parquet-door");
    simulated(&folder, "--parquet");
    let long = |folder: &str, ending: &str| {
        ROLES.map(|role| (format!("made/{folder}/{role}.{ending}"), Some(role)))
    };
    let wide = |name: &str| [(format!("made/{name}"), None)];
    for (name, layout, text, columns) in [
        (
            "long",
            "tarnwick-long.toml",
            long("long", "csv").to_vec(),
            long("parquet", "parquet").to_vec(),
        ),
        (
            "wide",
            "tarnwick-wide.toml",
            wide("tarnwick-visits.csv").to_vec(),
            wide("parquet/tarnwick-visits.parquet").to_vec(),
        ),
    ] {
        let [text, columns] = [("text", text), ("columns", columns)].map(|(form, files)| {
            let name = format!("{name}-{form}");
            let file = folder.write(&format!("{name}.toml"), &pipeline(layout, &files));
            report(&file, &folder.path(&name))
        });
        assert_alike(&text, &columns, &["accounts", "findings", "provenance"]);
        let findings = |report: &Value| {
            let text = report["findings"].to_string();
            text.replace("parquet/", "")
                .replace(".parquet", ".csv")
                .replace("long/", "")
        };
        assert_eq!(findings(&text), findings(&columns));
        for (text, columns) in (text["accounts"].as_array().unwrap().iter())
            .zip(columns["accounts"].as_array().unwrap())
        {
            for part in ["n_read", "n_used", "set_aside"] {
                assert_eq!(text[part], columns[part], "{part}");
            }
        }
    }
}

#[test]
fn the_sample_of_the_second_door_is_read_whole() {
    let output = limbledger(["check", "pipelines/fhir.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let text = printed(&output);
    // results of studies give reports their side, and so are used
    let aside: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("set-aside)"))
        .collect();
    assert!(aside.is_empty(), "{aside:?}");
    assert!(text.contains("from 8 files"), "{text}");
}
