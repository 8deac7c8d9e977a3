//! The answer as data: the parts that apply, in one shape for all methods.

use super::arguments::EstimateArguments;
use super::table::Table;
use serde::Serialize;
use serde_json::{Map, Value, json};
use survival::{ChiSquaredTest, ConfidenceLimits, CurveOptions};

/// An answer in the making.
pub(super) struct Answer {
    parts: Map<String, Value>,
    options: Map<String, Value>,
    curves: Vec<Value>,
    tests: Vec<Value>,
    notes: Vec<String>,
}

impl Answer {
    /// An answer about `n` rows, with every column that was named.
    pub(super) fn new(arguments: &EstimateArguments, n: usize, n_left_out: usize) -> Self {
        let mut parts = Map::new();
        insert(&mut parts, "method", arguments.method.name());
        insert(&mut parts, "n", n);
        insert(&mut parts, "n_left_out", n_left_out);
        let mut notes = Vec::new();
        if n_left_out > 0 {
            notes.push(format!("{n_left_out} rows were left out for an empty cell"));
        }
        let mut options = Map::new();
        for (name, column) in [
            ("exit", &arguments.exit),
            ("entry", &arguments.entry),
            ("cause", &arguments.cause),
            ("group", &arguments.group),
            ("stratum", &arguments.stratum),
            ("cluster", &arguments.cluster),
            ("weight", &arguments.weight),
            ("subject", &arguments.subject),
            ("from", &arguments.from),
            ("to", &arguments.to),
            ("lower", &arguments.lower),
            ("upper", &arguments.upper),
            ("events", &arguments.events),
            ("denominator", &arguments.denominator),
            ("expected", &arguments.expected),
        ] {
            if let Some(column) = column {
                insert(&mut options, name, column);
            }
        }
        if !arguments.covariates.is_empty() {
            insert(&mut options, "covariates", &arguments.covariates);
        }
        Self {
            parts,
            options,
            curves: Vec::new(),
            tests: Vec::new(),
            notes,
        }
    }

    /// An answer about the rows of a table, with the level where the method has one.
    pub(super) fn of_table(arguments: &EstimateArguments, table: &Table) -> Self {
        let mut answer = Self::new(arguments, table.n_rows(), table.n_left_out);
        if arguments.method.takes("--level") {
            answer.option("level", arguments.level);
        }
        answer
    }

    /// Says an option in force.
    pub(super) fn option(&mut self, name: &str, value: impl Serialize) {
        insert(&mut self.options, name, value);
    }

    /// Says the options of a curve.
    pub(super) fn curve_options(&mut self, options: &CurveOptions) {
        self.option("level", options.level);
        self.option("limits", options.limits);
        self.option("variance", options.variance);
    }

    /// Adds a part of its own.
    pub(super) fn part(&mut self, name: &str, value: Value) {
        self.parts.insert(name.to_owned(), value);
    }

    /// Adds a curve, a row of records or a model's prediction: whatever stands under `curves`.
    pub(super) fn curve(&mut self, curve: Value) {
        self.curves.push(curve);
    }

    /// Adds a test by its name, of one cause where it has one.
    pub(super) fn test(&mut self, name: &str, cause: Option<Value>, test: &ChiSquaredTest) {
        let mut value = json!({
            "name": name,
            "statistic": test.statistic,
            "df": test.df,
            "p_value": test.p_value,
        });
        if let Some(cause) = cause {
            insert_into(&mut value, "cause", cause);
        }
        if test.statistic.is_none() {
            let note = "not estimable: no event, or only one group at risk when events happen";
            insert_into(&mut value, "note", note);
        }
        self.tests.push(value);
    }

    /// Adds a sentence that a reader must know.
    pub(super) fn note(&mut self, note: impl ToString) {
        self.notes.push(note.to_string());
    }

    /// The answer with its options, curves, tests and notes, those that are empty left out.
    pub(super) fn finished(mut self) -> Value {
        self.parts
            .insert("options".to_owned(), Value::Object(self.options));
        for (name, list) in [("curves", self.curves), ("tests", self.tests)] {
            if !list.is_empty() {
                self.parts.insert(name.to_owned(), Value::Array(list));
            }
        }
        if !self.notes.is_empty() {
            insert(&mut self.parts, "notes", self.notes);
        }
        Value::Object(self.parts)
    }
}

/// Adds a field to an object.
pub(super) fn insert(object: &mut Map<String, Value>, name: &str, value: impl Serialize) {
    object.insert(name.to_owned(), json!(value));
}

/// Adds a field to a value that is an object; to any other it adds nothing.
pub(super) fn insert_into(value: &mut Value, name: &str, field: impl Serialize) {
    if let Some(object) = value.as_object_mut() {
        insert(object, name, field);
    }
}

/// Adds notes to a finished answer.
pub(super) fn add_notes(answer: &mut Value, notes: Vec<String>) {
    if notes.is_empty() {
        return;
    }
    let Some(parts) = answer.as_object_mut() else {
        return;
    };
    let known = parts.entry("notes").or_insert_with(|| json!([]));
    if let Some(known) = known.as_array_mut() {
        known.extend(notes.into_iter().map(Value::String));
    }
}

/// Adds an estimate from counts with its limits, and says so where there is none.
pub(super) fn insert_limits(
    object: &mut Map<String, Value>,
    estimate: Option<f64>,
    limits: Option<ConfidenceLimits>,
) {
    insert(object, "estimate", estimate);
    insert(object, "lower", limits.map(|limits| limits.lower));
    insert(object, "upper", limits.map(|limits| limits.upper));
    if estimate.is_none() {
        insert(object, "note", "not estimable: nothing to divide by");
    }
}
