//! Charts as data. Every kind carries the words around it; drawing adds scales only.

mod courses;
mod hidden;
mod monitoring;
mod movements;

pub use courses::{
    AreaLine, AreaPoint, FollowUpCalendar, FollowUpSpan, IncidenceStack, IntervalBeside,
    IntervalMass, SmallMultiples, SmallPanel, Trajectories,
};
pub use monitoring::{
    ControlChart, ControlPoint, Forest, ForestRow, Funnel, FunnelLimit, FunnelLimits, FunnelUnit,
    NamedSignal,
};
pub use movements::{Movement, MovementFlow, Pathway, PathwayStep};

use super::{Count, Unit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What every chart must have.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct FigureFrame {
    /// Kebab-case id, unique in a report.
    pub id: String,
    /// Id of the family it stands beside.
    pub family: String,
    /// The finding, as a sentence.
    pub title: String,
    /// What is drawn, of whom, and how to read it.
    pub caption: String,
    /// The picture in words, for those who cannot see it.
    pub alt: String,
}

/// A chart as data; drawing adds scales only.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Figure {
    /// Step curves that rise from 0, with bands and numbers at risk.
    CumulativeIncidence {
        /// Words around the chart.
        frame: FigureFrame,
        /// Last day shown.
        until_days: u32,
        /// Ticks of the time axis in days, for example every 4 weeks.
        ticks: Vec<u32>,
        /// Whether ticks are labelled in weeks or in months.
        tick_unit: String,
        /// Curves, in drawing order.
        curves: Vec<IncidenceCurve>,
        /// Numbers at risk at each tick.
        at_risk: Vec<AtRiskRow>,
        /// Days to mark, with a label: (84, "12 weeks").
        marks: Vec<(u32, String)>,
    },
    /// Shares by quarter, stacked to 100%.
    StackedShares {
        /// Words around the chart.
        frame: FigureFrame,
        /// Names of the layers, from the bottom up.
        layers: Vec<String>,
        /// One bar a quarter, oldest first.
        quarters: Vec<StackedQuarter>,
    },
    /// One measure by quarter with its intervals.
    QuarterlyTrend {
        /// Words around the chart.
        frame: FigureFrame,
        /// Unit of the vertical axis.
        unit: Unit,
        /// Points, oldest first.
        points: Vec<TrendPoint>,
        /// A published figure for context: value and citation.
        context: Option<(f64, String)>,
    },
    /// Everything that can happen, stacked: at every day the layers add up to 1.
    IncidenceStack(IncidenceStack),
    /// One small chart a stratum, all on the same scales.
    SmallMultiples(SmallMultiples),
    /// Curve from dated visits beside the one that knows only the interval between visits.
    IntervalBeside(IntervalBeside),
    /// Area of each ulcer over time as a share of its first area.
    Trajectories(Trajectories),
    /// Who was followed when: calendar time across, time since the start upwards.
    FollowUpCalendar(FollowUpCalendar),
    /// A measure over time with a centre, limits and named signals.
    ControlChart(ControlChart),
    /// Units by size, with the limits within which chance alone would leave them.
    Funnel(Funnel),
    /// Estimates side by side on one scale.
    Forest(Forest),
    /// How many went from which class to which between two dates.
    Movement(Movement),
    /// Steps of a pathway and how soon they are reached.
    Pathway(Pathway),
}

impl Figure {
    /// Words around the chart.
    pub fn frame(&self) -> &FigureFrame {
        match self {
            Self::CumulativeIncidence { frame, .. }
            | Self::StackedShares { frame, .. }
            | Self::QuarterlyTrend { frame, .. } => frame,
            Self::IncidenceStack(chart) => &chart.frame,
            Self::SmallMultiples(chart) => &chart.frame,
            Self::IntervalBeside(chart) => &chart.frame,
            Self::Trajectories(chart) => &chart.frame,
            Self::FollowUpCalendar(chart) => &chart.frame,
            Self::ControlChart(chart) => &chart.frame,
            Self::Funnel(chart) => &chart.frame,
            Self::Forest(chart) => &chart.frame,
            Self::Movement(chart) => &chart.frame,
            Self::Pathway(chart) => &chart.frame,
        }
    }
}

/// One step curve.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct IncidenceCurve {
    /// Direct label.
    pub label: String,
    /// Whether this is the event of interest (drawn strongest) or a competing one.
    pub is_main: bool,
    /// Last day the curve is drawn to: beyond it nobody (or, in a public copy, too few) is at risk.
    pub until_day: f64,
    /// Steps, in time order; the curve is 0 before the first.
    pub points: Vec<BandPoint>,
}

/// One step of a curve.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize)]
pub struct BandPoint {
    /// Day of the step.
    pub day: f64,
    /// Value from this day on.
    pub estimate: f64,
    /// Lower limit, where defined.
    pub lower: Option<f64>,
    /// Upper limit, where defined.
    pub upper: Option<f64>,
}

/// Numbers at risk under a chart.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct AtRiskRow {
    /// Row label.
    pub label: String,
    /// One number a tick.
    pub counts: Vec<Count>,
}

/// One bar of stacked shares.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct StackedQuarter {
    /// Quarter label.
    pub quarter: String,
    /// Counts, one a layer.
    pub counts: Vec<Count>,
    /// People behind the bar.
    pub n: Count,
}

/// One point of a trend. A quarter without a value is drawn as a gap with its reason.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct TrendPoint {
    /// Quarter label.
    pub quarter: String,
    /// Value, where there is one.
    pub estimate: Option<f64>,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Denominator, where the quarter has one yet.
    pub n: Option<Count>,
    /// Why there is no value: `not yet`, `not estimable`, `suppressed`.
    pub absent: Option<String>,
}
