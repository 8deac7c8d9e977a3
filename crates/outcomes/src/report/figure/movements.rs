//! Charts of people going from one place to another.

use super::FigureFrame;
use crate::report::{Count, Value};
use schemars::JsonSchema;
use serde::Serialize;

/// How many went from which class to which between two dates.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Movement {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// When it begins, for example `End of 2025 Q1`.
    pub from: String,
    /// When it ends.
    pub to: String,
    /// Classes at the beginning, from the top down; may hold one for people not seen before.
    pub from_classes: Vec<String>,
    /// Classes at the end, from the top down; may hold one for people no longer seen.
    pub to_classes: Vec<String>,
    /// Flows between them; a pair that is not named has nobody.
    pub flows: Vec<MovementFlow>,
}

/// People who went from one class to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub struct MovementFlow {
    /// Place in the classes at the beginning, from 0.
    pub from: usize,
    /// Place in the classes at the end, from 0.
    pub to: usize,
    /// How many.
    pub n: Count,
}

/// Steps of a pathway and how soon they are reached, everybody timed from the same start.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Pathway {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// What starts the clock, in words: `limbs that met a vascular trigger`.
    pub start: String,
    /// How many started.
    pub n: Count,
    /// Days by which shares are given, rising: 1, 7, 14, 28.
    pub days: Vec<u32>,
    /// Steps in their usual order.
    pub steps: Vec<PathwayStep>,
}

/// One step of a pathway.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct PathwayStep {
    /// Name of the step.
    pub label: String,
    /// Share that has reached it by each day, competing events allowed for: one value a day.
    pub reached: Vec<Value>,
    /// Days until half have reached it.
    pub median_days: Value,
    /// How many have reached it at all.
    pub n_reached: Count,
}
