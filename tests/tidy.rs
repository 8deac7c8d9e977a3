//! What the house must look like: who may depend on whom, who may do what, how long a file may be.

use crate::support::root;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Crate -> crates of ours it may depend on.
const ARROWS: [(&str, &[&str]); 6] = [
    ("survival", &[]),
    ("outcomes", &["survival"]),
    ("intake", &["outcomes"]),
    ("report", &["outcomes"]),
    ("simulate", &[]),
    (
        "cli",
        &["intake", "outcomes", "report", "simulate", "survival"],
    ),
];

/// Dependencies that any crate may name.
const EVERYBODYS: [&str; 6] = [
    "chrono",
    "schemars",
    "serde",
    "serde_json",
    "thiserror",
    "toml",
];

/// Dependency -> the only crates that may name it among their normal dependencies.
const HOMES: [(&str, &[&str]); 26] = [
    ("anyhow", &["cli"]),
    ("arrow-array", &["report"]),
    ("arrow-ipc", &["report"]),
    ("arrow-schema", &["report"]),
    ("clap", &["cli"]),
    ("csv", &["cli", "intake", "report", "simulate"]),
    ("flate2", &["intake"]),
    ("indicatif", &["cli"]),
    ("libm", &["simulate"]),
    ("maud", &["report"]),
    ("microlp", &["outcomes"]),
    ("parquet", &["intake", "report", "simulate"]),
    ("plotters", &["report"]),
    ("plotters-backend", &["report"]),
    ("polars", &["intake"]),
    ("rand", &["simulate"]),
    ("rand_chacha", &["simulate", "survival"]),
    ("rust_xlsxwriter", &["report"]),
    ("ruzstd", &["intake"]),
    ("sha2", &["cli", "intake"]),
    ("snap", &["intake"]),
    ("statrs", &["survival"]),
    ("strsim", &["intake"]),
    ("typst", &["report"]),
    ("typst-layout", &["report"]),
    ("typst-pdf", &["report"]),
];

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

/// Normal dependencies of each crate, by its manifest.
fn dependencies() -> BTreeMap<String, Vec<String>> {
    ARROWS
        .iter()
        .map(|(name, _)| {
            let text = read(&root().join("crates").join(name).join("Cargo.toml"));
            let manifest: toml::Table = toml::from_str(&text).unwrap();
            let named = manifest.get("dependencies").and_then(toml::Value::as_table);
            let names = named.map_or(Vec::new(), |table| table.keys().cloned().collect());
            ((*name).to_owned(), names)
        })
        .collect()
}

/// Every Rust file below a folder.
fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files.sort();
    files
}

#[test]
fn crates_depend_on_each_other_only_as_drawn() {
    for (name, named) in dependencies() {
        let (_, allowed) = ARROWS.iter().find(|(known, _)| *known == name).unwrap();
        for ours in named
            .iter()
            .filter(|named| ARROWS.iter().any(|(known, _)| known == named))
        {
            assert!(
                allowed.contains(&ours.as_str()),
                "{name} must not depend on {ours}"
            );
        }
    }
}

#[test]
fn every_dependency_is_at_home_where_it_is_named() {
    for (name, named) in dependencies() {
        for dependency in &named {
            let is_shared = EVERYBODYS.contains(&dependency.as_str());
            let is_ours = ARROWS.iter().any(|(known, _)| known == dependency);
            let is_at_home = HOMES
                .iter()
                .any(|(known, homes)| known == dependency && homes.contains(&name.as_str()));
            assert!(
                is_shared || is_ours || is_at_home,
                "{dependency} has no home in {name}"
            );
        }
    }
}

#[test]
fn only_the_ends_touch_files_and_nothing_that_makes_a_number_reads_a_clock() {
    for name in ["survival", "outcomes", "report", "simulate"] {
        for path in rust_files(&root().join("crates").join(name).join("src")) {
            let text = read(&path);
            for word in [
                "std::fs",
                "File::open",
                "SystemTime",
                "Instant::now",
                "Local::now",
                "Utc::now",
                "println!",
            ] {
                assert!(
                    !text.contains(word),
                    "{} must not use {word}",
                    path.display()
                );
            }
        }
    }
}

#[test]
fn no_crate_of_statistics_knows_a_clinic_word() {
    for path in rust_files(&root().join("crates/survival/src")) {
        let text = read(&path).to_lowercase();
        for word in [
            "ulcer",
            "patient",
            "amputation",
            "clinic",
            "wound",
            "podiat",
        ] {
            // Papers of clinical research may be cited, and the crate says that it knows no such word.
            let found = text
                .replace("clinical", "")
                .replace("no clinic word", "")
                .contains(word);
            assert!(!found, "{} knows the word {word}", path.display());
        }
    }
}

#[test]
fn source_files_stay_readable() {
    for (name, _) in ARROWS {
        for path in rust_files(&root().join("crates").join(name).join("src")) {
            let lines = read(&path).lines().count();
            assert!(
                lines <= 600,
                "{} has {lines} lines; one file, one idea",
                path.display()
            );
        }
    }
}

#[test]
fn the_readme_opens_with_the_job_and_names_commands_that_exist() {
    let readme = read(&root().join("README.md"));
    assert!(readme.starts_with("# limbledger\n\nA foot clinic treats"));
    for line in [
        "cargo run --release -- run pipelines/quarterly.toml",
        "cargo test --workspace",
    ] {
        assert!(readme.contains(line), "README.md lacks `{line}`");
    }
}

#[test]
fn every_setting_of_the_sample_pipeline_stands_at_its_default() {
    let text = read(&root().join("pipelines/quarterly.toml"));
    let file: toml::Table = toml::from_str(&text).unwrap();
    let named = file["rules"].clone();
    let rules: outcomes::rules::Rules = named.try_into().unwrap();
    assert_eq!(rules, outcomes::rules::Rules::default());
}
