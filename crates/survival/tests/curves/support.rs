//! Reads the reference cases and the small tables they use.

use serde_json::Value;
use std::collections::BTreeMap;
use std::path::PathBuf;
use survival::Sample;

fn reference(path: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The cases of one file.
pub(crate) fn cases(file: &str) -> Vec<Value> {
    serde_json::from_str(&reference(&format!("expected/{file}"))).unwrap()
}

/// A table of text cells by column name.
pub(crate) struct Table {
    columns: BTreeMap<String, Vec<String>>,
}

impl Table {
    /// The data of a case: rows with a missing value in a used column are left out, as are rows that the filter drops.
    pub(crate) fn of_case(case: &Value) -> Table {
        let text = reference(&format!("data/{}", case["dataset"].as_str().unwrap()));
        let mut lines = text.lines();
        let header: Vec<String> = cells(lines.next().unwrap());
        let used: Vec<&str> = case["columns"]
            .as_object()
            .unwrap()
            .iter()
            .filter(|(role, _)| *role != "filter")
            .filter_map(|(_, column)| column.as_str())
            .collect();
        let mut columns: BTreeMap<String, Vec<String>> = header
            .iter()
            .map(|name| (name.clone(), Vec::new()))
            .collect();
        for line in lines {
            let row: BTreeMap<&String, String> = header.iter().zip(cells(line)).collect();
            let is_missing = row
                .iter()
                .any(|(name, cell)| used.contains(&name.as_str()) && cell.is_empty());
            let is_empty_span = !is_missing && case["columns"]["entry"].is_string() && {
                let number = |role: &str| {
                    row[&case["columns"][role].as_str().unwrap().to_string()]
                        .parse::<f64>()
                        .unwrap()
                };
                number("time") <= number("entry")
            };
            if is_missing || is_empty_span {
                continue;
            }
            for (name, cell) in row {
                columns.get_mut(name).unwrap().push(cell);
            }
        }
        Table { columns }
    }

    pub(crate) fn text(&self, column: &str) -> &[String] {
        self.columns
            .get(column)
            .unwrap_or_else(|| panic!("no column {column}"))
    }

    pub(crate) fn numbers(&self, column: &str) -> Vec<f64> {
        self.text(column)
            .iter()
            .map(|cell| cell.parse().unwrap())
            .collect()
    }

    /// Whole numbers for labels, in order of first sight.
    pub(crate) fn codes(&self, column: &str) -> Vec<u32> {
        let mut known: Vec<&String> = Vec::new();
        self.text(column)
            .iter()
            .map(|cell| {
                let place = known.iter().position(|&label| label == cell);
                place.unwrap_or_else(|| {
                    known.push(cell);
                    known.len() - 1
                }) as u32
            })
            .collect()
    }

    /// The row numbers of a group; all rows for "all".
    pub(crate) fn rows_of(&self, case: &Value, group: &Value) -> Vec<usize> {
        let Some(column) = case["columns"]["group"].as_str() else {
            return (0..self.columns.values().next().unwrap().len()).collect();
        };
        let wanted = label(group);
        let cells = self.text(column);
        (0..cells.len())
            .filter(|&row| cells[row] == wanted)
            .collect()
    }

    /// The sample of these rows, with the roles that the case names.
    pub(crate) fn sample(&self, case: &Value, rows: &[usize]) -> Sample {
        let columns = &case["columns"];
        let pick = |role: &str| -> Option<Vec<f64>> {
            let all = self.numbers(columns[role].as_str()?);
            Some(rows.iter().map(|&row| all[row]).collect())
        };
        let cause = pick("event")
            .unwrap()
            .iter()
            .map(|&cause| cause as u32)
            .collect();
        let mut sample = Sample::new(pick("time").unwrap(), cause).unwrap();
        if let Some(entry) = pick("entry") {
            sample = sample.with_entry(entry).unwrap();
        }
        if let Some(weight) = pick("weights") {
            sample = sample.with_weight(weight).unwrap();
        }
        if let Some(cluster) = columns["cluster"].as_str() {
            let all = self.codes(cluster);
            sample = sample
                .with_cluster(rows.iter().map(|&row| all[row]).collect())
                .unwrap();
        }
        sample
    }
}

fn cells(line: &str) -> Vec<String> {
    line.split(',')
        .map(|cell| cell.trim_matches('"').to_string())
        .collect()
}

/// A group label as text.
pub(crate) fn label(value: &Value) -> String {
    value
        .as_str()
        .map_or_else(|| value.to_string(), str::to_string)
}

/// Numbers of a JSON list; "NA" is `None`.
pub(crate) fn numbers(value: &Value) -> Vec<Option<f64>> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(Value::as_f64)
        .collect()
}

/// Fails unless the two agree to an absolute tolerance, or both are missing.
#[track_caller]
pub(crate) fn assert_close(what: &str, found: Option<f64>, expected: Option<f64>, tolerance: f64) {
    match (found, expected) {
        (Some(found), Some(expected)) => assert!(
            (found - expected).abs() <= tolerance * expected.abs().max(1.0),
            "{what}: found {found}, expected {expected}"
        ),
        (None, None) => {}
        _ => panic!("{what}: found {found:?}, expected {expected:?}"),
    }
}
