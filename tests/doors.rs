//! One practice through two doors: its plain tables and its HL7 FHIR R4 export give the same report.

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

/// Every measure, figure and chart, every entry and every share of recorded fields. What must differ does: which files
/// were read, how many rows they have, and where a finding stands.
#[test]
fn every_measure_is_equal_between_the_two_doors() {
    let folder = Folder::new("doors");
    let made = folder.path("made");
    let output = limbledger([
        "simulate".as_ref(),
        "--out".as_ref(),
        made.as_os_str(),
        "--patients".as_ref(),
        "100".as_ref(),
        "--seed".as_ref(),
        "5".as_ref(),
        "--fhir".as_ref(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let plain = [
        "patients",
        "visits",
        "foot-exams",
        "ulcer-observations",
        "events",
    ]
    .map(|role| (format!("made/long/{role}.csv"), Some(role)));
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
    let mut n_compared = 0;
    for (part, value) in plain.as_object().unwrap() {
        if !differs.contains(&part.as_str()) {
            assert!(value == &fhir[part], "{part} differs");
            n_compared += 1;
        }
    }
    assert!(n_compared >= 15);
    let results = plain["families"].to_string();
    assert!(results.len() > 100_000, "there is something to compare");
}

#[test]
fn the_sample_of_the_second_door_is_read_whole() {
    let output = limbledger(["check", "pipelines/fhir.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let text = printed(&output);
    // results of studies give reports their side and nothing else
    let aside: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("set-aside)"))
        .collect();
    assert!(
        matches!(aside.as_slice(), [only] if only.contains("coding-not-in-layout")),
        "{aside:?}"
    );
    assert!(text.contains("from 8 files"), "{text}");
}
