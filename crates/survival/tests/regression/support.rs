//! Reading of the reference cases: values made outside this project, and the open data sets they were made from.

use std::collections::BTreeMap;
use std::path::PathBuf;

use serde_json::Value;
use survival::Sample;
use survival::regression::{Covariate, Covariates};

fn reference_folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

/// One file of expected values.
pub(crate) fn reference(file: &str) -> Value {
    let text = std::fs::read_to_string(reference_folder().join("expected").join(file)).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// Cases of one file.
pub(crate) fn cases(file: &str) -> Vec<Value> {
    reference(file).as_array().unwrap().clone()
}

/// A data set as text columns; an empty cell is a missing value.
pub(crate) struct Table {
    columns: BTreeMap<String, Vec<String>>,
    pub(crate) n_rows: usize,
}

impl Table {
    pub(crate) fn read(name: &str) -> Table {
        let text = std::fs::read_to_string(reference_folder().join("data").join(name)).unwrap();
        let mut lines = text.lines();
        let header: Vec<&str> = lines.next().unwrap().split(',').collect();
        let mut columns: BTreeMap<String, Vec<String>> = header
            .iter()
            .map(|name| ((*name).to_owned(), Vec::new()))
            .collect();
        let mut n_rows = 0;
        for line in lines {
            for (name, cell) in header.iter().zip(line.split(',')) {
                columns.get_mut(*name).unwrap().push(cell.to_owned());
            }
            n_rows += 1;
        }
        Table { columns, n_rows }
    }

    pub(crate) fn text(&self, name: &str) -> &[String] {
        &self.columns[name]
    }

    /// Numbers; a missing one becomes infinite.
    pub(crate) fn numbers(&self, name: &str) -> Vec<f64> {
        self.text(name)
            .iter()
            .map(|cell| {
                if cell.is_empty() {
                    f64::INFINITY
                } else {
                    cell.parse().unwrap()
                }
            })
            .collect()
    }

    /// Labels as numbers, in order of first appearance in sorted order.
    pub(crate) fn codes(&self, name: &str) -> Vec<u32> {
        let labels = self.labels(name);
        self.text(name)
            .iter()
            .map(|cell| labels.iter().position(|label| label == cell).unwrap() as u32)
            .collect()
    }

    pub(crate) fn labels(&self, name: &str) -> Vec<String> {
        let mut labels = self.text(name).to_vec();
        labels.sort();
        labels.dedup();
        labels
    }

    /// Rows for which `is_kept` holds.
    pub(crate) fn keep(&self, is_kept: impl Fn(usize) -> bool) -> Table {
        let rows: Vec<usize> = (0..self.n_rows).filter(|&row| is_kept(row)).collect();
        let columns = self
            .columns
            .iter()
            .map(|(name, cells)| {
                (
                    name.clone(),
                    rows.iter().map(|&row| cells[row].clone()).collect(),
                )
            })
            .collect();
        Table {
            columns,
            n_rows: rows.len(),
        }
    }

    /// Rows complete in the named columns.
    pub(crate) fn complete(&self, names: &[&str]) -> Table {
        self.keep(|row| names.iter().all(|name| !self.text(name)[row].is_empty()))
    }

    pub(crate) fn covariates(&self, names: &[&str]) -> Covariates {
        let columns = names
            .iter()
            .map(|name| Covariate {
                name: (*name).to_owned(),
                values: self.numbers(name),
            })
            .collect();
        Covariates::new(self.n_rows, columns).unwrap()
    }
}

/// The rows a case is about, by its `filter`, complete in every column it names.
pub(crate) fn rows_of(case: &Value) -> Table {
    let table = Table::read(case["dataset"].as_str().unwrap());
    let columns = &case["columns"];
    let named: Vec<&str> = [
        "time", "event", "entry", "strata", "cluster", "weights", "score",
    ]
    .iter()
    .filter_map(|role| columns[role].as_str())
    .chain(
        columns["x"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str),
    )
    .collect();
    let table = table.complete(&named);
    match columns["filter"].as_str() {
        None => table,
        Some("age > ageentry") => {
            let (age, entry) = (table.numbers("age"), table.numbers("ageentry"));
            table.keep(|row| age[row] > entry[row])
        }
        Some("female == 1") => table.keep(|row| table.text("female")[row] == "1"),
        Some("id <= 300") => {
            let id = table.numbers("id");
            table.keep(|row| id[row] <= 300.0)
        }
        Some("x == 0") => table.keep(|row| table.text("x")[row] == "0"),
        Some(other) => panic!("unknown filter {other}"),
    }
}

/// Follow-up of a case, with the entry, weight and cluster columns it names.
pub(crate) fn sample_of(case: &Value, table: &Table) -> Sample {
    let columns = &case["columns"];
    let column = |role: &str| columns[role].as_str();
    let event: Vec<u32> = table
        .numbers(column("event").unwrap())
        .iter()
        .map(|&event| event as u32)
        .collect();
    let mut sample = Sample::new(table.numbers(column("time").unwrap()), event).unwrap();
    if let Some(entry) = column("entry") {
        sample = sample.with_entry(table.numbers(entry)).unwrap();
    }
    if let Some(weight) = column("weights") {
        sample = sample.with_weight(table.numbers(weight)).unwrap();
    }
    if let Some(cluster) = column("cluster") {
        sample = sample.with_cluster(table.codes(cluster)).unwrap();
    }
    sample
}

pub(crate) fn terms_of(case: &Value) -> Vec<&str> {
    case["columns"]["x"]
        .as_array()
        .unwrap()
        .iter()
        .map(|name| name.as_str().unwrap())
        .collect()
}

/// A number, or the single number of a one by one matrix.
pub(crate) fn number(value: &Value) -> f64 {
    match value {
        Value::Array(inner) => number(&inner[0]),
        other => other.as_f64().unwrap(),
    }
}

/// Numbers; a bare one counts as a list of one.
pub(crate) fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Array(cells) => cells.iter().map(number).collect(),
        other => vec![number(other)],
    }
}

/// Asserts equality within a tolerance relative to the size of the expected number, absolute below 1.
pub(crate) fn assert_near(what: &str, found: f64, expected: f64, tolerance: f64) {
    let slack = tolerance * expected.abs().max(1e-3);
    assert!(
        (found - expected).abs() <= slack,
        "{what}: found {found:e}, expected {expected:e}, difference {:e}",
        found - expected
    );
}

pub(crate) fn assert_all_near(what: &str, found: &[f64], expected: &[f64], tolerance: f64) {
    assert_eq!(found.len(), expected.len(), "{what}: length");
    for (position, (found, expected)) in found.iter().zip(expected).enumerate() {
        assert_near(
            &format!("{what} [{position}]"),
            *found,
            *expected,
            tolerance,
        );
    }
}

/// Weeks of remission of 42 children with leukaemia (Freireich et al., Blood 1963;21:699-716): 21 on 6-MP, then 21 controls.
pub(crate) fn freireich() -> Sample {
    let treated = [
        (6, 1),
        (6, 1),
        (6, 1),
        (6, 0),
        (7, 1),
        (9, 0),
        (10, 1),
        (10, 0),
        (11, 0),
        (13, 1),
        (16, 1),
        (17, 0),
        (19, 0),
        (20, 0),
        (22, 1),
        (23, 1),
        (25, 0),
        (32, 0),
        (32, 0),
        (34, 0),
        (35, 0),
    ];
    let control = [
        1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23,
    ];
    let weeks = treated
        .iter()
        .map(|&(week, _)| week)
        .chain(control)
        .map(f64::from)
        .collect();
    let cause = treated
        .iter()
        .map(|&(_, cause)| cause)
        .chain([1; 21])
        .collect();
    Sample::new(weeks, cause).unwrap()
}

/// 1 for the controls of [`freireich`].
pub(crate) fn freireich_control() -> Vec<f64> {
    [0.0; 21].into_iter().chain([1.0; 21]).collect()
}
