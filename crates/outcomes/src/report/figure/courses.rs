//! Charts of what happens to ulcers, limbs and people as time passes.

use super::{AtRiskRow, BandPoint, FigureFrame, IncidenceCurve};
use crate::report::Count;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

/// Everything that can happen, stacked: at every day the layers add up to 1.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct IncidenceStack {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// Last day shown.
    pub until_days: u32,
    /// Ticks of the time axis in days.
    pub ticks: Vec<u32>,
    /// `weeks`, `months` or `days`.
    pub tick_unit: String,
    /// Layers from the bottom up. A layer is 0 before its first step; the one of those without any outcome yet
    /// begins with a step to 1 on day 0. Limits are drawn around the lowest and the highest layer only, whose inner
    /// edges are their own shares.
    pub layers: Vec<IncidenceCurve>,
    /// Numbers at risk at each tick.
    pub at_risk: Vec<AtRiskRow>,
}

/// One small chart a stratum, all on the same scales.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct SmallMultiples {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// Last day shown.
    pub until_days: u32,
    /// Ticks of the time axis in days.
    pub ticks: Vec<u32>,
    /// `weeks`, `months` or `days`.
    pub tick_unit: String,
    /// Panels in reading order.
    pub panels: Vec<SmallPanel>,
}

/// One panel of small multiples.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct SmallPanel {
    /// Stratum in words.
    pub label: String,
    /// How many are followed.
    pub n: Count,
    /// Curves; the same outcomes in the same order in every panel.
    pub curves: Vec<IncidenceCurve>,
    /// Numbers at risk at each tick.
    pub at_risk: Vec<Count>,
    /// Why there is no curve, in words: `too few for a curve`, `suppressed`.
    pub absent: Option<String>,
}

/// The curve that dates an event at the visit that saw it, beside the one that knows only the interval between visits.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct IntervalBeside {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// Last day shown.
    pub until_days: u32,
    /// Ticks of the time axis in days.
    pub ticks: Vec<u32>,
    /// `weeks`, `months` or `days`.
    pub tick_unit: String,
    /// Event dated at the first visit that saw it.
    pub conventional: IncidenceCurve,
    /// Label of the other estimate.
    pub interval_label: String,
    /// Where the other estimate puts its probability, in time order. Within a span the day is not known.
    pub masses: Vec<IntervalMass>,
}

/// Probability that an event fell after one day and up to another.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct IntervalMass {
    /// Not yet on this day.
    pub after_day: f64,
    /// By this day; `None` if it is not known ever to happen.
    pub by_day: Option<f64>,
    /// Probability of the span.
    pub probability: f64,
}

/// Area of each ulcer over time as a share of its first area.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Trajectories {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// Last day shown.
    pub until_days: u32,
    /// Ticks of the time axis in days.
    pub ticks: Vec<u32>,
    /// `weeks`, `months` or `days`.
    pub tick_unit: String,
    /// Ulcers behind the summary.
    pub n: Count,
    /// A line an ulcer, at most a few hundred; none in a public copy.
    pub lines: Vec<AreaLine>,
    /// What the summary is, for example `median and middle half`.
    pub summary_label: String,
    /// The summary: estimate with its lower and upper quartile.
    pub summary: Vec<BandPoint>,
}

/// The course of one ulcer.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct AreaLine {
    /// Measured areas in time order.
    pub points: Vec<AreaPoint>,
}

/// One measured area.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct AreaPoint {
    /// Days since the first visit.
    pub day: f64,
    /// Area divided by the first area.
    pub share_of_first: f64,
}

/// Who was followed when: calendar time across, time since the start upwards, a line each.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct FollowUpCalendar {
    /// Words around the chart.
    pub frame: FigureFrame,
    /// First day of the calendar axis.
    pub from: NaiveDate,
    /// Last day of the calendar axis: the cut-off.
    pub to: NaiveDate,
    /// Longest follow-up shown, in days.
    pub until_days: u32,
    /// Ways to end, in words, for example `healed`, `still followed`.
    pub endings: Vec<String>,
    /// A line each; none in a public copy.
    pub spans: Vec<FollowUpSpan>,
    /// How those that began in each quarter stand now: one count an ending. Always given.
    pub quarters: Vec<super::StackedQuarter>,
}

/// One line of a follow-up calendar.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct FollowUpSpan {
    /// First day.
    pub start: NaiveDate,
    /// Days followed.
    pub days: u32,
    /// Place of its ending in the list of endings, from 0.
    pub ending: usize,
}
