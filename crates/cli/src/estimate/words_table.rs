//! Records within records, unfolded into plain tables.

use serde_json::{Map, Value};

/// A line of a table: names of columns, and cells.
pub(super) type Line = Vec<(String, String)>;

/// Columns that come first, in this order; the others follow as they come.
const FIRST: [&str; 24] = [
    "group",
    "stratum",
    "transform",
    "name",
    "rule",
    "position",
    "target",
    "method",
    "widening",
    "size",
    "true_odds_ratio",
    "term",
    "time",
    "probability",
    "n",
    "expected",
    "exposure",
    "at_risk",
    "events",
    "censored",
    "estimate",
    "std_error",
    "lower",
    "upper",
];

/// The columns of a table in the order of reading.
pub(super) struct Columns {
    names: Vec<String>,
}

/// The place of a column among those that come first.
fn rank(name: &str) -> usize {
    let place = FIRST.iter().position(|first| *first == name);
    place.unwrap_or(FIRST.len())
}

impl Columns {
    pub(super) fn of(lines: &[Line]) -> Self {
        let mut names: Vec<String> = Vec::new();
        for (name, _) in lines.iter().flatten() {
            if !names.contains(name) {
                names.push(name.clone());
            }
        }
        // the fields of one record stay together, in the order of the others: `difference estimate`, `difference std_error`
        let parts = |name: &str| match name.rsplit_once(' ') {
            Some((around, field)) => (around.to_owned(), rank(field)),
            None => (name.to_owned(), rank(name)),
        };
        let around: Vec<String> = names.iter().map(|name| parts(name).0).collect();
        names.sort_by_cached_key(|name| {
            let (of_name, (prefix, of_field)) = (rank(name), parts(name));
            let first = around.iter().position(|other| *other == prefix);
            (of_name, first, of_field)
        });
        Self { names }
    }

    pub(super) fn header(&self) -> String {
        self.names.join("\t")
    }

    pub(super) fn cells(&self, line: &Line) -> String {
        let cell = |wanted: &String| {
            let found = line.iter().find(|(name, _)| name == wanted);
            found.map_or("", |(_, cell)| cell.as_str())
        };
        self.names.iter().map(cell).collect::<Vec<_>>().join("\t")
    }
}

/// A value in one cell: a list with commas, nothing as a dash.
pub(super) fn word(value: &Value) -> String {
    match value {
        Value::Null => "-".to_owned(),
        Value::String(text) => text.clone(),
        Value::Array(items) if items.is_empty() => "none".to_owned(),
        Value::Array(items) => items.iter().map(word).collect::<Vec<_>>().join(", "),
        Value::Object(fields) => fields
            .iter()
            .map(|(name, value)| format!("{name} {}", word(value)))
            .collect::<Vec<_>>()
            .join(", "),
        other => other.to_string(),
    }
}

/// A line for each record, and for each field that holds records of its own a table with a line for each of those.
pub(super) fn unfolded(rows: &[Value]) -> (Vec<Line>, Vec<(String, Vec<Line>)>) {
    let mut lines = Vec::new();
    let mut below: Vec<(String, Vec<Line>)> = Vec::new();
    for record in rows.iter().filter_map(Value::as_object) {
        let mut line = Line::new();
        for (name, value) in record {
            match value.as_array() {
                Some(inner) if inner.iter().any(Value::is_object) => {
                    if !limits_by_probability(name, inner, &mut line) {
                        add_below(record, name, inner, &mut below);
                    }
                }
                _ => add_cells(name, value, &mut line),
            }
        }
        lines.push(line);
    }
    (lines, below)
}

/// A cell, or one for each field of a record: `difference estimate`. What only gathers two limits gives no name.
fn add_cells(name: &str, value: &Value, line: &mut Line) {
    match value.as_object() {
        Some(fields) if name != "target" => {
            for (field, value) in fields {
                let name = match field.as_str() {
                    "limits" => name.to_owned(),
                    _ => format!("{name} {field}"),
                };
                match value.as_object() {
                    Some(_) => add_cells(&name, value, line),
                    None => line.push((name, word(value))),
                }
            }
        }
        _ => line.push((name.to_owned(), word(value))),
    }
}

/// Limits of several probabilities as columns beside each other; false where the records are something else.
fn limits_by_probability(name: &str, records: &[Value], line: &mut Line) -> bool {
    let one = |record: &Value| {
        let fields = record.as_object().filter(|fields| fields.len() == 2)?;
        let probability = fields.get("probability")?;
        Some((word(probability), word(fields.get("value")?)))
    };
    let Some(found) = records.iter().map(one).collect::<Option<Vec<_>>>() else {
        return false;
    };
    let kind = match name {
        "limits" => "limit".to_owned(),
        _ => format!("{name} limit"),
    };
    line.extend(
        found
            .into_iter()
            .map(|(probability, value)| (format!("{kind} at {probability}"), value)),
    );
    true
}

/// Adds the records of a field to its table, each with the labels of the record around it.
fn add_below(
    record: &Map<String, Value>,
    name: &str,
    inner: &[Value],
    below: &mut Vec<(String, Vec<Line>)>,
) {
    let labels: Line = record
        .iter()
        .filter(|(field, value)| {
            value.is_string() || ["group", "position"].contains(&field.as_str())
        })
        .map(|(field, value)| (field.clone(), word(value)))
        .collect();
    let lines = inner.iter().filter_map(Value::as_object).map(|fields| {
        let mut line = labels.clone();
        for (field, value) in fields {
            add_cells(field, value, &mut line);
        }
        line
    });
    match below.iter_mut().find(|(known, _)| known == name) {
        Some((_, known)) => known.extend(lines),
        None => below.push((name.to_owned(), lines.collect())),
    }
}
