//! The published schema of report.json: made from the types, kept as a file, and true of every report.

use crate::{fixture, hostile, privacy};
use outcomes::report::{Audience, Report};
use schemars::{Schema, transform::transform_subschemas};
use serde_json::{Value, json};
use std::path::PathBuf;

fn kept_at() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../reports/schema/report.schema.json")
}

/// A number that is not finite is written as null.
fn numbers_may_be_null(schema: &mut Schema) {
    if schema.get("type") == Some(&json!("number")) {
        schema.insert("type".to_owned(), json!(["number", "null"]));
    }
    transform_subschemas(&mut numbers_may_be_null, schema);
}

/// The schema as the types and their documentation give it.
fn made() -> Value {
    let mut schema = schemars::schema_for!(Report);
    numbers_may_be_null(&mut schema);
    schema.insert("$id".to_owned(), json!("urn:limbledger:report:1"));
    schema.insert("title".to_owned(), json!("report.json of limbledger"));
    let words = "Everything one report says. Shares are between 0 and 1; dates are ISO 8601. Numbers have at most ten significant digits; one that is not finite is null. A hidden count is the word suppressed and never a number.";
    schema.insert("description".to_owned(), json!(words));
    schema.to_value()
}

#[test]
fn the_published_schema_is_the_one_of_the_types() {
    let made = made();
    if std::env::var_os("LIMBLEDGER_REFRESH").is_some_and(|value| value == "1") {
        let text = serde_json::to_string_pretty(&made).unwrap() + "\n";
        std::fs::write(kept_at(), text).unwrap();
        return;
    }
    let kept: Value = serde_json::from_slice(&std::fs::read(kept_at()).unwrap()).unwrap();
    assert!(
        kept == made,
        "reports/schema/report.schema.json is not current; refresh it"
    );
}

fn faults(validator: &jsonschema::Validator, report: &Value) -> Vec<String> {
    let errors = validator.iter_errors(report);
    errors
        .map(|error| error.to_string().chars().take(300).collect())
        .collect()
}

#[test]
fn every_copy_and_every_example_report_obeys_the_schema() {
    let validator = jsonschema::validator_for(&made()).unwrap();
    let mut reports: Vec<Value> = [Audience::Clinic, Audience::Auditor, Audience::Public]
        .map(fixture::report)
        .into_iter()
        .chain([privacy::hidden(), hostile::poisoned("=<b>\u{202e}")])
        .map(|report| serde_json::from_str(&report::json(&report).unwrap()).unwrap())
        .collect();
    for audience in ["clinic", "auditor", "public"] {
        let path = kept_at()
            .with_file_name("../example")
            .join(audience)
            .join("report.json");
        reports.push(serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap());
    }
    for report in reports {
        assert_eq!(faults(&validator, &report), [""; 0]);
    }
}

#[test]
fn a_report_that_breaks_a_promise_of_the_schema_is_refused() {
    let validator = jsonschema::validator_for(&made()).unwrap();
    let good: Value =
        serde_json::from_str(&report::json(&fixture::report(Audience::Public)).unwrap()).unwrap();
    let spoilt: [(&str, Value); 6] = [
        ("/audience", json!("press")),
        ("/quarter_start", json!("soon")),
        ("/front_page/headlines/0/result/value/kind", json!("guess")),
        ("/front_page/headlines/0/result/numerator", json!("about 7")),
        ("/figures/0/kind", json!("pie")),
        ("/flow/0/n", json!({ "shown": -1 })),
    ];
    for (place, value) in spoilt {
        let mut report = good.clone();
        *report.pointer_mut(place).unwrap() = value;
        // Formats of dates are remarks in the standard; a date must at least be a text.
        let is_remark = place == "/quarter_start";
        assert_eq!(faults(&validator, &report).is_empty(), is_remark, "{place}");
    }
}
