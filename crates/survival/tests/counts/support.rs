//! Reading of reference values and data sets.

use serde_json::Value;
use std::path::PathBuf;

fn reference_path(name: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "tests", "reference", name]
        .iter()
        .collect()
}

/// The case with this id in a reference file; its `computed_by` says which library made the values.
pub(crate) fn case(file: &str, id: &str) -> Value {
    let text = std::fs::read_to_string(reference_path("expected").join(file)).unwrap();
    let cases: Vec<Value> = serde_json::from_str(&text).unwrap();
    cases.into_iter().find(|case| case["id"] == id).unwrap()
}

/// The named columns of a data set over the rows without a missing value in any of them.
pub(crate) fn complete_rows(file: &str, names: &[&str]) -> Vec<Vec<f64>> {
    let text = std::fs::read_to_string(reference_path("data").join(file)).unwrap();
    let mut lines = text.lines();
    let header: Vec<&str> = lines
        .next()
        .unwrap()
        .split(',')
        .map(|name| name.trim_matches('"'))
        .collect();
    let places: Vec<usize> = names
        .iter()
        .map(|name| header.iter().position(|own| own == name).unwrap())
        .collect();
    let mut columns = vec![Vec::new(); names.len()];
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        let row: Option<Vec<f64>> = places
            .iter()
            .map(|place| cells[*place].parse().ok())
            .collect();
        for (column, value) in columns.iter_mut().zip(row.unwrap_or_default()) {
            column.push(value);
        }
    }
    columns
}

/// A column of a data set as numbers.
pub(crate) fn column(file: &str, name: &str) -> Vec<f64> {
    let text = std::fs::read_to_string(reference_path("data").join(file)).unwrap();
    let mut lines = text.lines();
    let place = lines
        .next()
        .unwrap()
        .split(',')
        .position(|header| header.trim_matches('"') == name)
        .unwrap();
    lines
        .map(|line| line.split(',').nth(place).unwrap().parse().unwrap())
        .collect()
}

/// A column of a data set as counts.
pub(crate) fn counts(file: &str, name: &str) -> Vec<u64> {
    column(file, name)
        .into_iter()
        .map(|value| value as u64)
        .collect()
}

/// A reference value, or a list of them.
pub(crate) fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Array(values) => values.iter().map(|value| value.as_f64().unwrap()).collect(),
        single => vec![single.as_f64().unwrap()],
    }
}

#[track_caller]
pub(crate) fn assert_near(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found}, expected {expected}"
    );
}

#[track_caller]
pub(crate) fn assert_all_near(found: &[f64], expected: &[f64], tolerance: f64) {
    assert_eq!(found.len(), expected.len());
    for (place, (found, expected)) in found.iter().zip(expected).enumerate() {
        assert!(
            (found - expected).abs() <= tolerance,
            "place {place}: found {found}, expected {expected}"
        );
    }
}
