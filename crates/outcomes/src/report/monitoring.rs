//! The series watched over the quarters, as data.

use schemars::JsonSchema;
use serde::Serialize;

/// What the charts over the quarters say, and how often they would speak if nothing had changed.
#[derive(Debug, Clone, Default, PartialEq, Eq, JsonSchema, Serialize)]
pub struct Monitoring {
    /// The run rules and what they come to by chance, a sentence each.
    pub rules: Vec<String>,
    /// Every series watched, charted or not.
    pub series: Vec<WatchedSeries>,
}

/// One series that is watched.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct WatchedSeries {
    /// What is watched.
    pub title: String,
    /// Id of its figure, where there is one.
    pub figure: Option<String>,
    /// What was found, or why there is no chart.
    pub finding: String,
    /// Whether the rules gave a signal.
    pub is_signal: bool,
}
