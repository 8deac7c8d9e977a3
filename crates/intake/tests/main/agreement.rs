//! A synthetic practice, written by code that shares nothing with the loader, comes back as it was written.

use crate::support::{TestFile, day, horizon, repository, shipped_layout};
use intake::{Input, Loaded, Role, load};
use outcomes::rules::DataHorizon;
use outcomes::tables::{EventKind, Tables};
use simulate::{Scenario, simulate};
use std::collections::BTreeSet;

fn load_through(layout: &str, files: &[(&str, Role, &[u8])]) -> Loaded {
    let kept: Vec<TestFile> = files
        .iter()
        .map(|(_, _, bytes)| TestFile::new(bytes))
        .collect();
    let inputs: Vec<Input> = files
        .iter()
        .zip(&kept)
        .map(|((name, role, _), file)| Input {
            name: (*name).to_owned(),
            path: file.path.clone(),
            role: Some(*role),
            joined: None,
            exported: None,
        })
        .collect();
    let horizon = DataHorizon {
        data_start: day("2023-01-01"),
        ..horizon()
    };
    load(&inputs, &shipped_layout(layout), &horizon, &|_| ()).unwrap()
}

/// Every row of every table in words, in order, without the places it was read from; names are spelt out beside it.
fn in_words(tables: &Tables) -> Vec<Vec<String>> {
    let id = |key| tables.patient(key).id.as_str();
    let name = |name| tables.name_or_unrecorded(name);
    let patients = tables
        .patients
        .iter()
        .map(|row| format!("{} {row:?}", name(row.referral_source)));
    let visits = tables.visits.iter().map(|row| {
        let names = [row.clinic_site, row.clinician, row.clinician_role].map(name);
        format!("{} {names:?} {row:?}", id(row.patient))
    });
    let exams = tables
        .foot_exams
        .iter()
        .map(|row| format!("{} {row:?}", id(row.patient)));
    let ulcers = tables.ulcer_observations.iter().map(|row| {
        let names = [Some(row.label), row.parent, row.merged_into].map(name);
        format!("{} {names:?} {row:?}", id(row.patient))
    });
    let events = tables
        .events
        .iter()
        .map(|row| format!("{} {} {row:?}", id(row.patient), name(row.ulcer_label)));
    let tables: [Vec<String>; 5] = [
        patients.collect(),
        visits.collect(),
        exams.collect(),
        ulcers.collect(),
        events.collect(),
    ];
    tables
        .into_iter()
        .map(|rows| {
            let mut rows: Vec<String> = rows.iter().map(|row| without_places(row)).collect();
            rows.sort();
            rows
        })
        .collect()
}

/// The text without record numbers and without the numbers that stand for names and persons.
fn without_places(text: &str) -> String {
    let mut kept = text.to_owned();
    for (start, end) in [("SourceRow {", "}"), ("NameId(", ")"), ("PatientKey(", ")")] {
        let mut parts = kept.split(start);
        let first = parts.next().unwrap_or_default().to_owned();
        let rest = parts.map(|part| part.split_once(end).map_or("", |(_, after)| after));
        kept = first + &rest.collect::<String>();
    }
    kept
}

/// Nobody mistypes; items are missing and measurements err, alike in both exports.
fn careful_practice(seed: u64) -> simulate::Practice {
    let scenario = Scenario {
        n_patients: 60,
        ..Scenario::default()
    };
    let typing = scenario.clone().without_noise().typing;
    simulate(&Scenario { typing, ..scenario }, seed).unwrap()
}

#[test]
fn the_wide_and_the_long_export_of_a_practice_load_alike() {
    let practice = careful_practice(7);
    let wide = practice.export_wide().unwrap();
    let long = practice.export_long().unwrap();
    let wide = load_through(
        "tarnwick-wide.toml",
        &[("wide.csv", Role::Visits, &wide.csv)],
    );
    let long = load_through(
        "tarnwick-long.toml",
        &[
            ("patients.csv", Role::Patients, &long.patients),
            ("visits.csv", Role::Visits, &long.visits),
            ("exams.csv", Role::FootExams, &long.foot_exams),
            (
                "ulcers.csv",
                Role::UlcerObservations,
                &long.ulcer_observations,
            ),
            ("events.csv", Role::Events, &long.events),
        ],
    );
    for (wide, long) in in_words(&wide.tables).iter().zip(in_words(&long.tables)) {
        assert!(!wide.is_empty());
        for (wide, long) in wide.iter().zip(&long) {
            assert_eq!(wide, long);
        }
        assert_eq!(wide.len(), long.len());
    }
    for account in wide.accounts.iter().chain(&long.accounts) {
        assert_eq!(account.n_set_aside(), 0, "{account:?}");
    }
}

/// Every table is equal but for what the standard has no element for: a death is told by the patient and is no event, and an
/// admission names no side.
#[test]
fn the_long_export_and_the_fhir_export_of_a_practice_load_alike() {
    let practice = careful_practice(11);
    let long = practice.export_long().unwrap();
    let mut long = load_through(
        "tarnwick-long.toml",
        &[
            ("patients.csv", Role::Patients, &long.patients),
            ("visits.csv", Role::Visits, &long.visits),
            ("exams.csv", Role::FootExams, &long.foot_exams),
            (
                "ulcers.csv",
                Role::UlcerObservations,
                &long.ulcer_observations,
            ),
            ("events.csv", Role::Events, &long.events),
        ],
    );
    let fhir = load_fhir(&practice.export_fhir().unwrap());
    long.tables
        .events
        .retain(|event| event.kind != EventKind::Death);
    for event in &mut long.tables.events {
        if event.kind == EventKind::Admission {
            event.side = None;
        }
    }
    for (long, fhir) in in_words(&long.tables).iter().zip(in_words(&fhir.tables)) {
        assert!(!long.is_empty());
        for (long, fhir) in long.iter().zip(&fhir) {
            assert_eq!(long, fhir);
        }
        assert_eq!(long.len(), fhir.len());
    }
    let checks: BTreeSet<&str> = fhir.findings.iter().map(|finding| finding.check).collect();
    let expected = ["coding-of-no-interest", "lesion-without-observation"];
    assert!(
        checks.iter().all(|check| expected.contains(check)),
        "{checks:?}"
    );
    let (mut n_read, mut aside) = (0, BTreeSet::new());
    for account in &fhir.accounts {
        assert!(account.is_balanced(), "{account:?}");
        assert_eq!(account.text_bytes.total(), account.bytes);
        n_read += account.n_read;
        aside.extend(account.set_aside.iter().map(|(check, _)| check.as_str()));
    }
    assert!(n_read > 1000);
    // a lesion may be known from an operation only, and an
    // appointment may have been made before the export begins
    let allowed = ["coding-of-no-interest", "lesion-without-observation"];
    assert!(
        aside.iter().all(|check| allowed.contains(check)),
        "{aside:?}"
    );
}

fn load_fhir(files: &simulate::FhirFiles<Vec<u8>>) -> Loaded {
    let named = files.clone().named();
    let kept: Vec<TestFile> = named
        .iter()
        .map(|(_, bytes)| TestFile::new(bytes))
        .collect();
    let inputs: Vec<Input> = named
        .iter()
        .zip(&kept)
        .map(|((name, _), file)| Input {
            name: (*name).to_owned(),
            path: file.path.clone(),
            role: None,
            joined: None,
            exported: None,
        })
        .collect();
    let horizon = DataHorizon {
        data_start: day("2023-01-01"),
        ..horizon()
    };
    load(
        &inputs,
        &shipped_layout("tarnwick-fhir.toml"),
        &horizon,
        &|_| (),
    )
    .unwrap()
}

/// The generator lists every mistake it made. Those that a single row shows must be found, at their record and column,
/// and nothing else may be.
#[test]
fn every_typing_mistake_that_one_row_shows_is_found_and_no_other() {
    let mistakes =
        std::fs::read_to_string(repository().join("sample-data/truth/typing-errors.csv")).unwrap();
    let mut expected = BTreeSet::new();
    for line in mistakes.lines().skip(1) {
        let [record, column, mistake] = line.split(',').collect::<Vec<_>>()[..] else {
            panic!("{line}")
        };
        let record: u32 = record.parse().unwrap();
        let check = match (mistake, column) {
            ("repeated-row", _) => "repeated-row",
            ("impossible-date", "vis_date") => "unreadable-visit-date",
            ("impossible-date", _) => "unreadable-date",
            ("impossible-value", _) => "value-out-of-range",
            ("unknown-code", _) => "unknown-code",
            // seen only across rows (or, a length in the wrong unit, not at all)
            ("wrong-side" | "wrong-unit" | "onset-after-visit", _) => continue,
            _ => panic!("{line}"),
        };
        expected.insert((record, check.to_owned(), column.to_owned()));
        if check == "unreadable-date" && column.starts_with("ev") {
            expected.insert((record, "no-event-date".to_owned(), String::new()));
        }
    }
    let loaded = crate::sample::sample();
    let found: BTreeSet<(u32, String, String)> = loaded
        .findings
        .iter()
        .filter(|finding| finding.severity != outcomes::finding::Severity::Note)
        .map(|finding| {
            let column = finding.column.clone().unwrap_or_default();
            (
                finding.source.unwrap().record,
                finding.check.to_owned(),
                column,
            )
        })
        .collect();
    let missed: Vec<_> = expected.difference(&found).collect();
    let invented: Vec<_> = found.difference(&expected).collect();
    assert!(
        missed.is_empty() && invented.is_empty(),
        "missed {missed:?}, invented {invented:?}"
    );
    assert!(!expected.is_empty());
}
