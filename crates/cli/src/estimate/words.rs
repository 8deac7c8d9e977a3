//! An answer as tables for reading: tab-separated, a title line before each.

use super::words_table::{Columns, Line, unfolded, word};
use serde_json::{Map, Value};

/// Lays an answer out as text.
pub(super) fn in_words(answer: &Value) -> String {
    let mut text = String::new();
    let Some(parts) = answer.as_object() else {
        return text;
    };
    push_line(&mut text, &plain_fields(parts));
    for (name, part) in parts {
        write_part(&mut text, name, part);
    }
    text
}

/// What is no table and no list of its own, on one line.
fn plain_fields(parts: &Map<String, Value>) -> String {
    let plain: Vec<String> = parts
        .iter()
        .filter(|(_, value)| !value.is_array() && !value.is_object())
        .map(|(name, value)| format!("{name} {}", word(value)))
        .collect();
    plain.join(", ")
}

fn write_part(text: &mut String, name: &str, part: &Value) {
    match part {
        Value::Object(fields) => {
            if let Some(lines) = matrix(fields) {
                return write_table(text, name, &lines);
            }
            text.push('\n');
            push_line(text, name);
            // what fits a line before what is a table, so that no line stands under a title that is not its own
            for (field, value) in fields.iter().filter(|(_, value)| !is_table(value)) {
                push_line(text, &format!("  {field}\t{}", word(value)));
            }
            for (field, value) in fields.iter().filter(|(_, value)| is_table(value)) {
                write_part(text, &format!("{name}: {field}"), value);
            }
        }
        Value::Array(rows) if name == "curves" => {
            for row in rows.iter().filter_map(Value::as_object) {
                text.push('\n');
                push_line(text, &plain_fields(row));
                for (field, value) in row {
                    write_part(text, field, value);
                }
            }
        }
        Value::Array(rows) if is_table(part) => {
            let (lines, below) = unfolded(rows);
            write_table(text, name, &lines);
            for (field, lines) in below {
                write_table(text, &format!("{name}: {field}"), &lines);
            }
        }
        Value::Array(items) => {
            text.push('\n');
            push_line(text, name);
            if items.is_empty() {
                push_line(text, "  none");
            }
            for item in items {
                push_line(text, &format!("  {}", word(item)));
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

/// A matrix whose lines and columns are named alike.
fn matrix(fields: &Map<String, Value>) -> Option<Vec<Line>> {
    let names = fields.get("terms")?.as_array()?;
    let rows = fields.get("rows")?.as_array()?;
    if fields.len() > 2 {
        return None;
    }
    let lines = names.iter().zip(rows).map(|(name, row)| {
        let mut line = vec![("term".to_owned(), word(name))];
        let cells = names.iter().zip(row.as_array().into_iter().flatten());
        line.extend(cells.map(|(column, cell)| (word(column), word(cell))));
        line
    });
    Some(lines.collect())
}

fn write_table(text: &mut String, name: &str, lines: &[Line]) {
    text.push('\n');
    push_line(text, name);
    let columns = Columns::of(lines);
    push_line(text, &columns.header());
    for line in lines {
        push_line(text, &columns.cells(line));
    }
}

fn push_line(text: &mut String, line: &str) {
    text.push_str(line);
    text.push('\n');
}

#[cfg(test)]
mod tests {
    use super::in_words;
    use serde_json::json;

    #[test]
    fn no_braces_whatever_an_answer_holds() {
        let answer = json!({
            "method": "some",
            "contrasts": [{
                "target": { "event-free": { "time": 84.0 } },
                "difference": { "estimate": 0.5, "std_error": null, "limits": { "lower": 0.25, "upper": 0.75 } },
            }],
            "funnel": [{ "n": 3, "limits": [{ "probability": 0.5, "value": 0.1 }, { "probability": 0.75, "value": null }] }],
            "tests": [{ "transform": "log", "terms": [{ "term": "a", "df": 1 }, { "term": "b", "df": 2 }], "global": { "df": 3 } }],
            "covariance": { "terms": ["a", "b"], "rows": [[1.0, 0.5], [0.5, 2.0]] },
            "options": { "covariates": ["a", "b"], "times": [] },
            "outside": [],
        });
        let expected = "\
method some

contrasts
target	difference estimate	difference std_error	difference lower	difference upper
event-free time 84.0	0.5	-	0.25	0.75

covariance
term	a	b
a	1.0	0.5
b	0.5	2.0

funnel
n	limit at 0.5	limit at 0.75
3	0.1	-

options
  covariates	a, b
  times	none

outside
  none

tests
transform	global df
log	3

tests: terms
transform	term	df
log	a	1
log	b	2
";
        assert_eq!(in_words(&answer), expected);
    }
}
