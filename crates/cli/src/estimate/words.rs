//! An answer as tables for reading: tab-separated, a title line before each.

use serde_json::{Map, Value};

/// Columns that come first, in this order; the others follow by name.
const FIRST: [&str; 12] = [
    "group",
    "name",
    "term",
    "time",
    "probability",
    "at_risk",
    "events",
    "censored",
    "estimate",
    "std_error",
    "lower",
    "upper",
];

/// Lays an answer out as text.
pub(super) fn in_words(answer: &Value) -> String {
    let mut text = String::new();
    let Some(parts) = answer.as_object() else {
        return text;
    };
    let plain: Vec<String> = parts
        .iter()
        .filter(|(_, value)| !value.is_array() && !value.is_object())
        .map(|(name, value)| format!("{name} {}", word(value)))
        .collect();
    push_line(&mut text, &plain.join(", "));
    for (name, part) in parts {
        write_part(&mut text, name, part);
    }
    text
}

fn write_part(text: &mut String, name: &str, part: &Value) {
    match part {
        Value::Object(fields) => {
            text.push('\n');
            push_line(text, name);
            for (field, value) in fields {
                if is_table(value) {
                    write_part(text, field, value);
                } else {
                    push_line(text, &format!("  {field}\t{}", word(value)));
                }
            }
        }
        Value::Array(rows) if name == "curves" => {
            for row in rows.iter().filter_map(Value::as_object) {
                let title: Vec<String> = row
                    .iter()
                    .filter(|(_, value)| !is_table(value))
                    .map(|(field, value)| format!("{field} {}", word(value)))
                    .collect();
                text.push('\n');
                push_line(text, &title.join(", "));
                for (field, value) in row.iter().filter(|(_, value)| is_table(value)) {
                    write_part(text, field, value);
                }
            }
        }
        Value::Array(rows) if is_table(part) => {
            text.push('\n');
            push_line(text, name);
            write_table(text, rows);
        }
        Value::Array(lines) => {
            text.push('\n');
            push_line(text, name);
            for line in lines {
                push_line(text, &format!("  {}", word(line)));
            }
        }
        _ => {}
    }
}

/// Whether a value holds records, or one of several fields.
fn is_table(value: &Value) -> bool {
    match value {
        Value::Array(rows) => rows.iter().any(Value::is_object),
        other => other.is_object(),
    }
}

fn write_table(text: &mut String, rows: &[Value]) {
    let records: Vec<&Map<String, Value>> = rows.iter().filter_map(Value::as_object).collect();
    let mut header: Vec<&String> = Vec::new();
    for name in records.iter().flat_map(|record| record.keys()) {
        if !header.contains(&name) {
            header.push(name);
        }
    }
    let rank = |name: &str| {
        FIRST
            .iter()
            .position(|first| *first == name)
            .unwrap_or(FIRST.len())
    };
    header.sort_by_key(|name| rank(name));
    let names: Vec<&str> = header.iter().map(|name| name.as_str()).collect();
    push_line(text, &names.join("\t"));
    for record in records {
        let cells: Vec<String> = header
            .iter()
            .map(|name| record.get(*name).map_or_else(String::new, word))
            .collect();
        push_line(text, &cells.join("\t"));
    }
}

fn word(value: &Value) -> String {
    match value {
        Value::Null => "-".to_owned(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

fn push_line(text: &mut String, line: &str) {
    text.push_str(line);
    text.push('\n');
}
