//! Control charts: is a series of figures stable, or did something change?
//!
//! Charts say that something differs from its own past, not why. Limits from fewer than about 12 points are provisional
//! (common practice, no source).

mod attributes;
mod false_alarm;
mod individuals;
mod memory;
mod rare_events;
mod rules;
mod run_chart;

use serde::{Deserialize, Serialize};

pub use attributes::{ChartOptions, Variation, count_chart, proportion_chart, rate_chart};
pub use false_alarm::{FalseAlarm, LimitSource, false_alarm_chance, false_alarm_chances};
pub use individuals::{IndividualsChart, MovingRangeRule, individuals_chart};
pub use memory::{
    CumulativeSumPoint, MeasurementBaseline, SmoothedPoint, exponentially_weighted_chart,
    measurement_baseline, measurement_cumulative_sums,
};
pub use rare_events::{cases_between_chart, time_between_chart};
pub use rules::{Rule, RuleSet, Signal, signals};
pub use run_chart::{RunChart, RunChartOptions, run_chart};

/// Limits stand this many standard deviations from the centre. Source: Shewhart, Economic Control of Quality of
/// Manufactured Product, 1931.
pub const SIGMA_LIMIT: f64 = 3.0;
/// Mean moving range to standard deviation. Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2.
pub const D2_OF_TWO: f64 = 1.128;
/// Limits of individual values per mean moving range, 3 / d2 as printed (common practice, no source).
pub const INDIVIDUALS_PER_MEAN_RANGE: f64 = 2.66;
/// Limits of individual values per median moving range, as printed (common practice, no source).
pub const INDIVIDUALS_PER_MEDIAN_RANGE: f64 = 3.145;
/// Upper limit of moving ranges per mean moving range. Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2.
pub const RANGE_LIMIT_PER_MEAN_RANGE: f64 = 3.267;
/// Power that makes exponential waiting times nearly normal. Source: Nelson, J Qual Technol 1994;26:239-243.
pub const WAITING_TIME_POWER: f64 = 1.0 / 3.6;

/// What a chart shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ChartKind {
    /// Single measurements with limits from moving ranges (XmR).
    Individuals,
    /// Shares of a denominator (p).
    Proportion,
    /// Shares with the variation between periods added (p').
    ProportionLaney,
    /// Events per exposure (u).
    Rate,
    /// Events per exposure with the variation between periods added (u').
    RateLaney,
    /// Events over equal exposures (c).
    Count,
    /// Cases between rare events (g).
    CasesBetween,
    /// Time between rare events (t).
    TimeBetween,
}

/// A series with its centre and limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ControlChart {
    /// What is charted.
    pub kind: ChartKind,
    /// Centre line, on the scale of the values.
    pub centre: f64,
    /// Standard deviation of the standardised values from their moving ranges (Laney); `None` for other kinds, and where nothing
    /// or everything happened.
    pub sigma_z: Option<f64>,
    /// Points the centre and limits were made from.
    pub n_baseline: usize,
    /// One for each value given, in order.
    pub points: Vec<ChartPoint>,
    /// Whether one and two standard deviations mean the same on both sides, so that rules on zones apply.
    pub has_even_zones: bool,
}

/// One point of a chart.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChartPoint {
    /// Place in the series, from 1.
    pub position: usize,
    /// The value; `None` where the denominator is empty.
    pub value: Option<f64>,
    /// Lower limit, never beyond the possible range; `None` where the denominator is empty.
    pub lower: Option<f64>,
    /// Upper limit, never beyond the possible range; `None` where the denominator is empty.
    pub upper: Option<f64>,
    /// Distance from the centre in standard deviations; `None` where there is no value or no spread.
    pub deviation: Option<f64>,
    /// Whether the value lies strictly beyond a limit.
    pub is_outside: bool,
}

impl ControlChart {
    /// Positions of the points beyond a limit, from 1.
    pub fn outside(&self) -> Vec<usize> {
        self.points
            .iter()
            .filter(|point| point.is_outside)
            .map(|point| point.position)
            .collect()
    }
}

/// Lowest and highest value that is possible.
#[derive(Clone, Copy)]
struct Range {
    lowest: f64,
    highest: f64,
}

impl Range {
    const UNBOUNDED: Range = Range {
        lowest: f64::NEG_INFINITY,
        highest: f64::INFINITY,
    };
    const AMOUNT: Range = Range {
        lowest: 0.0,
        highest: f64::INFINITY,
    };
    const SHARE: Range = Range {
        lowest: 0.0,
        highest: 1.0,
    };
}

/// A point whose limits stand `SIGMA_LIMIT` standard deviations from the centre.
fn point(position: usize, value: f64, centre: f64, sigma: f64, range: Range) -> ChartPoint {
    let lower = (centre - SIGMA_LIMIT * sigma).max(range.lowest);
    let upper = (centre + SIGMA_LIMIT * sigma).min(range.highest);
    ChartPoint {
        position,
        value: Some(value),
        lower: Some(lower),
        upper: Some(upper),
        deviation: (sigma > 0.0).then(|| (value - centre) / sigma),
        is_outside: value < lower || value > upper,
    }
}

impl ChartPoint {
    /// A place in the series without a value.
    pub fn empty(position: usize) -> Self {
        Self {
            position,
            value: None,
            lower: None,
            upper: None,
            deviation: None,
            is_outside: false,
        }
    }
}

/// Absolute differences of neighbours.
fn moving_ranges(values: &[f64]) -> Vec<f64> {
    values
        .windows(2)
        .filter_map(|pair| Some((pair.last()? - pair.first()?).abs()))
        .collect()
}

/// Mean of a list; `None` when it is empty.
fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// The first `n_baseline` values, or all.
fn baseline<T>(values: &[T], n_baseline: Option<usize>) -> &[T] {
    values
        .get(..n_baseline.unwrap_or(values.len()))
        .unwrap_or(values)
}
