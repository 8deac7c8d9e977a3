//! Pages, charts and data as kept; the same report gives the same bytes.

use crate::fixture;
use outcomes::report::Audience;
use std::path::PathBuf;

/// Compares with the kept file, or rewrites it when `LIMBLEDGER_REFRESH=1`.
fn compare(name: &str, made: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/golden")
        .join(name);
    if std::env::var_os("LIMBLEDGER_REFRESH").is_some_and(|value| value == "1") {
        std::fs::write(&path, made).unwrap();
        return;
    }
    let kept = std::fs::read_to_string(&path).unwrap();
    let first_difference = kept
        .lines()
        .zip(made.lines())
        .position(|(kept, made)| kept != made);
    assert!(
        kept == made,
        "{name} differs from the kept file, first at line {:?}",
        first_difference.map(|line| line + 1)
    );
}

#[test]
fn the_clinic_copy_is_as_kept() {
    compare(
        "clinic.html",
        &report::html(&fixture::report(Audience::Clinic)).unwrap(),
    );
}

#[test]
fn the_data_of_the_auditor_copy_are_as_kept() {
    compare(
        "auditor.json",
        &report::json(&fixture::report(Audience::Auditor)).unwrap(),
    );
}

#[test]
fn every_chart_is_as_kept_and_small() {
    let page = report::html(&fixture::report(Audience::Clinic)).unwrap();
    let charts: Vec<&str> = crate::accessibility::svgs(&page);
    let large: Vec<usize> = charts
        .iter()
        .map(|svg| svg.len())
        .filter(|size| *size > 15_000)
        .collect();
    assert_eq!(large, [0_usize; 0]);
    compare("charts.svg.txt", &charts.join("\n"));
}

#[test]
fn rendering_twice_gives_the_same_bytes() {
    let report = fixture::report(Audience::Auditor);
    assert_eq!(
        report::html(&report).unwrap(),
        report::html(&report.clone()).unwrap()
    );
    assert_eq!(
        report::json(&report).unwrap(),
        report::json(&report.clone()).unwrap()
    );
}
