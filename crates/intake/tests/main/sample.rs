//! The committed synthetic export loads through its committed layout.

use crate::support::{account, day, horizon, lines, repository, shipped_layout};
use intake::{Input, Loaded, load};
use outcomes::rules::DataHorizon;
use std::sync::OnceLock;

/// The sample, loaded once.
pub(crate) fn sample() -> &'static Loaded {
    static SAMPLE: OnceLock<Loaded> = OnceLock::new();
    SAMPLE.get_or_init(|| {
        let input = Input {
            name: "tarnwick-visits.csv".to_owned(),
            path: repository().join("sample-data/tarnwick-visits.csv"),
            role: None,
            joined: None,
            exported: None,
        };
        let horizon = DataHorizon {
            data_start: day("2023-01-01"),
            ..horizon()
        };
        load(
            &[input],
            &shipped_layout("tarnwick-wide.toml"),
            &horizon,
            &|_| (),
        )
        .unwrap()
    })
}

#[test]
fn every_column_of_the_sample_is_mapped_or_ignored_on_purpose() {
    let lines = lines(sample());
    assert!(
        !lines
            .iter()
            .any(|line| line.contains("column-not-in-layout")),
        "{lines:?}"
    );
}

#[test]
fn the_sample_is_used_but_for_repeated_and_undated_rows() {
    let loaded = sample();
    let reasons: Vec<&str> = loaded.accounts[0]
        .set_aside
        .iter()
        .map(|(check, _)| check.as_str())
        .collect();
    assert_eq!(
        reasons,
        ["repeated-row", "unreadable-visit-date"],
        "{}",
        account(loaded)
    );
    let tables = &loaded.tables;
    assert!(tables.patients.len() > 300, "{}", tables.patients.len());
    assert!(
        tables.visits.len() > 3000 && tables.events.len() > 100 && tables.foot_exams.len() > 1000
    );
}

#[test]
fn the_sample_holds_nothing_that_looks_like_an_identifier() {
    let lines = lines(sample());
    assert!(
        !lines.iter().any(|line| line.starts_with("stop")),
        "{lines:?}"
    );
}
