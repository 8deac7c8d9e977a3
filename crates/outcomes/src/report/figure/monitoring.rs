//! Charts that set a figure against what chance alone would give.

use super::FigureFrame;
use crate::report::{Count, Unit, Value};
use schemars::JsonSchema;
use serde::Serialize;

/// A measure over time with a centre, limits and named signals.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct ControlChart {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// Unit of the vertical axis.
    pub unit: Unit,
    /// What kind of chart it is, in words: `proportions with limits from each quarter's number`.
    pub kind_of_chart: String,
    /// What the limits are, in words: `3 standard errors`, `exact 99.8%`.
    pub limits_words: String,
    /// Points in time order.
    pub points: Vec<ControlPoint>,
    /// Every signal looked for, found or not, with its rule in words.
    pub signals: Vec<NamedSignal>,
}

/// One point of a control chart.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct ControlPoint {
    /// Quarter, or the number or date of an event.
    pub label: String,
    /// Value, or why there is none.
    pub value: Value,
    /// How many are behind it.
    pub n: Option<Count>,
    /// Centre at this point.
    pub centre: Option<f64>,
    /// Lower limit at this point.
    pub lower: Option<f64>,
    /// Upper limit at this point.
    pub upper: Option<f64>,
    /// Names of the signals that this point completes.
    pub signals: Vec<String>,
}

/// A rule by which a chart gives a signal.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct NamedSignal {
    /// Short name: `outside the limits`.
    pub name: String,
    /// The rule in words: `a point beyond a limit`.
    pub words: String,
}

/// Units by size, with the limits within which chance alone would leave them. No ranking.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Funnel {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// Unit of the vertical axis.
    pub unit: Unit,
    /// What the horizontal axis counts: `ulcers`, `expected events`.
    pub size_words: String,
    /// The figure that all units would share if they differed by chance alone.
    pub expected: f64,
    /// Limits, the inner level first.
    pub limits: Vec<FunnelLimits>,
    /// Units, in name order.
    pub units: Vec<FunnelUnit>,
}

/// Limits of one level.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct FunnelLimits {
    /// Level, for example 0.95.
    pub level: f64,
    /// Limits by size, in rising order.
    pub points: Vec<FunnelLimit>,
}

/// Limits at one size.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct FunnelLimit {
    /// Size.
    pub size: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
}

/// One unit of a funnel: a site, a clinician.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct FunnelUnit {
    /// Name.
    pub label: String,
    /// Place on the horizontal axis; `None` where it is hidden.
    pub size: Option<f64>,
    /// How many are counted.
    pub n: Count,
    /// Value, or why there is none.
    pub value: Value,
    /// Where it lies, in words: `inside the 95% limits`.
    pub place: String,
}

/// Estimates side by side on one scale.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Forest {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// Unit of the horizontal axis. Ratios are drawn on a logarithmic scale.
    pub unit: Unit,
    /// A line to compare with and its name: (1.0, `as expected`).
    pub reference: Option<(f64, String)>,
    /// Rows from the top down.
    pub rows: Vec<ForestRow>,
}

/// One row of a forest plot.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct ForestRow {
    /// Heading that this row stands under; the same for neighbouring rows of one group.
    pub group: Option<String>,
    /// What is estimated.
    pub label: String,
    /// Estimate with its interval, or why there is none.
    pub value: Value,
    /// How many are behind it.
    pub n: Option<Count>,
    /// How many of them had the event.
    pub n_events: Option<Count>,
}
