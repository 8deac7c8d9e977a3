//! The answer as data: the parts that apply, in one shape for all methods.

use super::arguments::EstimateArguments;
use crate::failure::Failure;
use serde::Serialize;
use serde_json::{Map, Value, json};
use survival::{ChiSquaredTest, Curve, CurveOptions, Limits, Quantity};

/// An answer in the making.
pub(super) struct Answer {
    parts: Map<String, Value>,
    options: Map<String, Value>,
    curves: Vec<Value>,
    tests: Vec<Value>,
    notes: Vec<String>,
}

impl Answer {
    pub(super) fn new(arguments: &EstimateArguments, n: usize, n_left_out: usize) -> Self {
        let mut parts = Map::new();
        parts.insert("method".to_owned(), json!(arguments.method.name()));
        parts.insert("n".to_owned(), json!(n));
        parts.insert("n_left_out".to_owned(), json!(n_left_out));
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
                options.insert(name.to_owned(), json!(column));
            }
        }
        if !arguments.covariates.is_empty() {
            options.insert("covariates".to_owned(), json!(arguments.covariates));
        }
        Self {
            parts,
            options,
            curves: Vec::new(),
            tests: Vec::new(),
            notes,
        }
    }

    /// Says an option in force.
    pub(super) fn option(&mut self, name: &str, value: impl Serialize) {
        self.options.insert(name.to_owned(), json!(value));
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

    pub(super) fn curve(&mut self, curve: Value) {
        self.curves.push(curve);
    }

    pub(super) fn test(&mut self, name: &str, cause: Option<Value>, test: &ChiSquaredTest) {
        let mut value = json!({
            "name": name,
            "statistic": test.statistic,
            "df": test.df,
            "p_value": test.p_value,
        });
        if let Some(object) = value.as_object_mut() {
            if let Some(cause) = cause {
                object.insert("cause".to_owned(), cause);
            }
            if test.statistic.is_none() {
                let note = "not estimable: no event, or only one group at risk when events happen";
                object.insert("note".to_owned(), json!(note));
            }
        }
        self.tests.push(value);
    }

    pub(super) fn note(&mut self, note: impl ToString) {
        self.notes.push(note.to_string());
    }

    pub(super) fn finished(mut self) -> Value {
        self.parts
            .insert("options".to_owned(), Value::Object(self.options));
        for (name, list) in [("curves", self.curves), ("tests", self.tests)] {
            if !list.is_empty() {
                self.parts.insert(name.to_owned(), Value::Array(list));
            }
        }
        if !self.notes.is_empty() {
            self.parts.insert("notes".to_owned(), json!(self.notes));
        }
        Value::Object(self.parts)
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

/// Shares whose times are reported with every curve of a probability.
const PROBABILITIES: [f64; 3] = [0.25, 0.5, 0.75];

/// A curve with its group and cause, the times asked for among its points, and its quantiles.
pub(super) fn curve_json(
    curve: &Curve,
    group: Option<&str>,
    cause: Option<Value>,
    times: &[f64],
) -> Result<Value, Failure> {
    let mut object = Map::new();
    if let Some(group) = group {
        object.insert("group".to_owned(), json!(group));
    }
    if let Some(cause) = cause {
        object.insert("cause".to_owned(), cause);
    }
    object.insert("quantity".to_owned(), json!(curve.quantity));
    object.insert("n".to_owned(), json!(curve.n));
    object.insert("level".to_owned(), json!(curve.level));
    object.insert("limits".to_owned(), json!(scale_of_limits(curve)));
    object.insert("variance".to_owned(), json!(curve.variance));
    object.insert("points".to_owned(), points_json(curve, times)?);
    let quantiles: Vec<Value> = PROBABILITIES
        .iter()
        .map(|&probability| {
            let mut value = json!(curve.quantile(probability));
            if value.get("estimate").is_some_and(Value::is_null)
                && let Some(object) = value.as_object_mut()
            {
                object.insert("note".to_owned(), json!("not reached"));
            }
            value
        })
        .collect();
    if matches!(
        curve.quantity,
        survival::Quantity::EventFree | survival::Quantity::Incidence
    ) {
        object.insert("quantiles".to_owned(), json!(quantiles));
    }
    if !curve.notes.is_empty() {
        let notes: Vec<String> = curve.notes.iter().map(ToString::to_string).collect();
        object.insert("notes".to_owned(), json!(notes));
    }
    Ok(Value::Object(object))
}

/// The scale of the limits as they were made: minus the log of a probability is a hazard, so that log-log limits of the one are log
/// limits of the other.
fn scale_of_limits(curve: &Curve) -> Limits {
    match (curve.quantity, curve.limits) {
        (Quantity::CumulativeHazard | Quantity::MeanCount, Limits::LogLog) => Limits::Log,
        (_, limits) => limits,
    }
}

fn points_json(curve: &Curve, times: &[f64]) -> Result<Value, Failure> {
    let mut points: Vec<(f64, Value)> = curve
        .points
        .iter()
        .map(|point| (point.time, point_json(point)))
        .collect();
    for &time in times {
        if !(time >= 0.0 && time.is_finite()) {
            return Err(Failure::CannotRun(
                "`--times` must be finite times of 0 or more".to_owned(),
            ));
        }
        if points.iter().any(|&(known, _)| known == time) {
            continue;
        }
        let point = match curve.at(time) {
            Some(point) => point_json(&point),
            None => json!({
                "time": time,
                "at_risk": 0,
                "events": 0,
                "censored": 0,
                "estimate": null,
                "std_error": null,
                "lower": null,
                "upper": null,
                "note": "past the last observation",
            }),
        };
        points.push((time, point));
    }
    points.sort_by(|left, right| left.0.total_cmp(&right.0));
    Ok(points.into_iter().map(|(_, point)| point).collect())
}

fn point_json(point: &survival::CurvePoint) -> Value {
    json!({
        "time": point.time,
        "at_risk": point.n_at_risk,
        "events": point.n_events,
        "censored": point.n_censored,
        "estimate": point.estimate,
        "std_error": point.std_error,
        "lower": point.lower,
        "upper": point.upper,
    })
}
