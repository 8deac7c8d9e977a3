//! The headline figures under every named alternative, as data.

use super::MeasureResult;
use schemars::JsonSchema;
use serde::Serialize;

/// What the headline figures would be if one rule were another.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Sensitivity {
    /// Name of the setting, or what else is changed.
    pub rule: String,
    /// What it decides.
    pub words: String,
    /// Its value in this report.
    pub in_force: String,
    /// The value tried.
    pub alternative: String,
    /// Headline figures that come out otherwise.
    pub changed: Vec<SensitiveFigure>,
    /// Ids of the headline measures that come out the same.
    pub unchanged: Vec<String>,
}

/// One headline figure under the rule in force and under the alternative.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct SensitiveFigure {
    /// The figure of this report.
    pub in_force: MeasureResult,
    /// The same figure under the alternative.
    pub alternative: MeasureResult,
    /// Alternative less value in force, in the figure's unit; none where one of them has no value.
    pub difference: Option<f64>,
}
