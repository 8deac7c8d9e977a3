//! The main job on the sample practice: a whole run folder, reconciled, repeatable.

use crate::support::{Folder, limbledger, names_below, printed, root, said, sample_run};
use serde_json::Value;
use std::path::Path;

fn run_into(out: &Path) -> std::process::Output {
    limbledger([
        "run".as_ref(),
        "pipelines/quarterly.toml".as_ref(),
        "--out".as_ref(),
        out.as_os_str(),
    ])
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

#[test]
fn the_main_command_writes_a_whole_run_folder_and_says_where() {
    let folder = Folder::new("main-job");
    let out = folder.path("run");
    let output = run_into(&out);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert_eq!(printed(&output).trim(), out.display().to_string());
    assert_eq!(
        names_below(&out),
        [
            "auditor/findings.csv",
            "auditor/report.html",
            "auditor/report.json",
            "auditor/trace.csv",
            "clinic/findings.csv",
            "clinic/report.html",
            "clinic/report.json",
            "manifest.json",
            "public/report.html",
            "public/report.json",
        ]
    );
    assert_eq!(
        folder.names(),
        ["run"],
        "nothing is left beside the run folder"
    );
}

#[test]
fn rows_read_are_rows_used_plus_rows_set_aside_and_every_finding_is_listed() {
    let out = sample_run();
    let manifest = json(&out.join("manifest.json"));
    let report = json(&out.join("clinic/report.json"));
    let records = csv::ReaderBuilder::new()
        .from_path(root().join("sample-data/tarnwick-visits.csv"))
        .unwrap()
        .into_records()
        .count() as u64;
    let account = &manifest["accounts"][0];
    let set_aside: u64 = account["set_aside"]
        .as_array()
        .unwrap()
        .iter()
        .map(|reason| reason[1].as_u64().unwrap())
        .sum();
    assert_eq!(account["n_read"].as_u64(), Some(records));
    assert_eq!(account["n_used"].as_u64().unwrap() + set_aside, records);
    let listed = csv::Reader::from_path(out.join("clinic/findings.csv"))
        .unwrap()
        .into_records()
        .count() as u64;
    let tallied: u64 = report["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|tally| tally["n"]["shown"].as_u64().unwrap())
        .sum();
    assert_eq!(listed, tallied);
    assert!(listed > 0, "a messy export has findings");
}

#[test]
fn the_manifest_vouches_for_every_file() {
    let out = sample_run();
    let manifest = json(&out.join("manifest.json"));
    for output in manifest["outputs"].as_array().unwrap() {
        let bytes = std::fs::read(out.join(output["name"].as_str().unwrap())).unwrap();
        assert_eq!(output["bytes"].as_u64(), Some(bytes.len() as u64));
    }
    let n_outputs = manifest["outputs"].as_array().unwrap().len();
    assert_eq!(n_outputs + 1, names_below(out).len());
}

#[test]
fn the_same_inputs_give_the_same_bytes_and_a_second_run_replaces_the_first() {
    let folder = Folder::new("repeat");
    let again = folder.path("run");
    run_into(&again);
    run_into(&again);
    let names = names_below(&again);
    assert_eq!(names, names_below(sample_run()));
    for name in names {
        assert_eq!(
            std::fs::read(again.join(&name)).unwrap(),
            std::fs::read(sample_run().join(&name)).unwrap(),
            "{name}"
        );
    }
    assert_eq!(folder.names(), ["run"]);
}

#[test]
fn no_cell_of_the_export_reaches_stdout_or_stderr() {
    let output = limbledger(["check", "pipelines/quarterly.toml", "--places", "1000"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let words = printed(&output) + &said(&output);
    assert!(!words.contains("TW-0"), "a patient id was printed");
}

#[test]
fn another_quarter_can_be_reported_and_one_outside_the_export_not() {
    let folder = Folder::new("quarter");
    let out = folder.path("run");
    let run = |quarter: &str| {
        limbledger([
            "run".as_ref(),
            "pipelines/quarterly.toml".as_ref(),
            "--out".as_ref(),
            out.as_os_str(),
            "--quarter".as_ref(),
            quarter.as_ref(),
        ])
    };
    assert_eq!(run("2024Q2").status.code(), Some(0));
    assert_eq!(json(&out.join("clinic/report.json"))["quarter"], "2024 Q2");
    assert_eq!(run("2031Q1").status.code(), Some(2));
    assert_eq!(run("soon").status.code(), Some(2));
    assert_eq!(
        json(&out.join("clinic/report.json"))["quarter"],
        "2024 Q2",
        "a refused run leaves the earlier one"
    );
}

#[test]
fn copies_of_one_run_tell_the_same_numbers_and_only_the_clinic_s_names_people() {
    let out = sample_run();
    let clinic = json(&out.join("clinic/report.json"));
    let auditor = json(&out.join("auditor/report.json"));
    assert_eq!(clinic["families"], auditor["families"]);
    assert_eq!(clinic["accounts"], auditor["accounts"]);
    assert!(!clinic["action_list"].as_array().unwrap().is_empty());
    for name in names_below(&out.join("auditor")) {
        let bytes = std::fs::read(out.join("auditor").join(&name)).unwrap();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        if name.starts_with("report.") {
            assert!(!text.contains("TW-0"), "auditor/{name} names a patient");
        }
    }
}
