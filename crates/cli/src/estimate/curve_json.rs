//! A curve as data: its points with the times asked for among them, its quantiles, and the mean beneath it.

use super::answer::{insert, insert_into};
use crate::failure::Failure;
use serde_json::{Map, Value, json};
use survival::{Curve, CurvePoint, Limits, Quantity, RestrictedMean, TimeInState, Variance};

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
        insert(&mut object, "group", group);
    }
    if let Some(cause) = cause {
        insert(&mut object, "cause", cause);
    }
    insert(&mut object, "quantity", curve.quantity);
    insert(&mut object, "n", curve.n);
    insert(&mut object, "level", curve.level);
    insert(&mut object, "limits", scale_of_limits(curve));
    insert(&mut object, "variance", curve.variance);
    object.insert("points".to_owned(), points_json(curve, times)?);
    let quantiles: Vec<Value> = PROBABILITIES
        .iter()
        .map(|&probability| {
            let mut value = json!(curve.quantile(probability));
            if value.get("estimate").is_some_and(Value::is_null) {
                insert_into(&mut value, "note", "not reached");
            }
            value
        })
        .collect();
    if matches!(curve.quantity, Quantity::EventFree | Quantity::Incidence) {
        insert(&mut object, "quantiles", quantiles);
    }
    if !curve.notes.is_empty() {
        let notes: Vec<String> = curve.notes.iter().map(ToString::to_string).collect();
        insert(&mut object, "notes", notes);
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

fn point_json(point: &CurvePoint) -> Value {
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

/// A mean up to a bound, of whatever lies beneath a curve.
pub(super) struct MeanUntil {
    until: f64,
    estimate: f64,
    std_error: f64,
    lower: f64,
    upper: f64,
    carried_on_from: Option<f64>,
}

impl From<&RestrictedMean> for MeanUntil {
    fn from(mean: &RestrictedMean) -> Self {
        Self {
            until: mean.until,
            estimate: mean.estimate,
            std_error: mean.std_error,
            lower: mean.lower,
            upper: mean.upper,
            carried_on_from: mean.carried_on_from,
        }
    }
}

impl From<&TimeInState> for MeanUntil {
    fn from(time: &TimeInState) -> Self {
        Self {
            until: time.until,
            estimate: time.estimate,
            std_error: time.std_error,
            lower: time.lower,
            upper: time.upper,
            carried_on_from: time.carried_on_from,
        }
    }
}

/// Adds a mean to its curve; its limits are linear whatever the scale of those of the curve.
pub(super) fn insert_mean(curve: &mut Value, mean: MeanUntil, variance: Variance) {
    let mut part = json!({
        "until": mean.until,
        "estimate": mean.estimate,
        "std_error": mean.std_error,
        "lower": mean.lower,
        "upper": mean.upper,
        "limits": "linear",
        "variance": variance,
    });
    if let Some(last) = mean.carried_on_from {
        let note = format!("carried on flat from {last}, the last time observed");
        insert_into(&mut part, "note", note);
    }
    insert_into(curve, "restricted_mean", part);
}
