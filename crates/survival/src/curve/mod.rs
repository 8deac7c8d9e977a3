//! Curves: an estimate at each distinct time, with its uncertainty and the numbers at risk.

mod assemble;
mod bootstrap;
mod limits;
mod options;
mod quantile;

pub(crate) use assemble::{Columns, Context, assemble, entered};
pub use bootstrap::{BootstrapQuantile, bootstrap_quantile};
pub(crate) use limits::pointwise_limits;
pub use options::{CurveOptions, Limits, Variance};
pub use quantile::Quantile;

use crate::counts::ConfidenceLimits;
use serde::Serialize;
use std::sync::Arc;

/// What the numbers of a curve are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// Probability of no event yet; starts at 1 and falls.
    EventFree,
    /// Probability of an event of one cause by then; starts at 0 and rises.
    Incidence,
    /// Cumulative hazard; starts at 0 and rises without bound.
    CumulativeHazard,
    /// Mean number of events a subject has had by then; starts at 0 and rises without bound.
    MeanCount,
    /// Probability of being in a state then; may rise and fall.
    Occupancy,
}

/// A curve at one time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// The time, in the unit of the sample.
    pub time: f64,
    /// Sum of weights at risk just before the time; for an occupancy, of those in the state.
    pub n_at_risk: f64,
    /// Sum of weights of the curve's events at the time; for an occupancy, of those who come into the state.
    pub n_events: f64,
    /// Sum of weights censored at the time.
    pub n_censored: f64,
    /// The estimate just after the time.
    pub estimate: f64,
    /// Standard error on the estimate's own scale; `None` where not estimable (a survival of 0).
    pub std_error: Option<f64>,
    /// Lower pointwise confidence limit; `None` where the limits are not defined.
    pub lower: Option<f64>,
    /// Upper pointwise confidence limit; `None` where the limits are not defined.
    pub upper: Option<f64>,
}

/// Something the reader of a curve must know.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum CurveNote {
    /// At `time` everybody then at risk had the event although others come under observation later: the curve reaches
    /// its end there and says nothing about the later ones. Condition on a later landmark instead.
    RiskSetEmptied {
        /// The time at which the risk set emptied.
        time: f64,
    },
    /// Nobody is at risk after `from` until rows enter and are at risk at `to`; the curve is flat in between for want of data.
    NobodyAtRisk {
        /// Last time before the gap.
        from: f64,
        /// First time after it.
        to: f64,
    },
    /// Rows with an empty follow-up or without weight: counted in `n`, never at risk.
    NeverAtRisk {
        /// How many.
        n_rows: usize,
    },
}

impl std::fmt::Display for CurveNote {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            CurveNote::RiskSetEmptied { time } => write!(
                out,
                "everybody at risk at {time} had the event while others enter later: the curve stays where it is from there on; start at a later landmark"
            ),
            CurveNote::NobodyAtRisk { from, to } => write!(
                out,
                "nobody is at risk after {from} and before {to}: the curve is flat there for want of data"
            ),
            CurveNote::NeverAtRisk { n_rows } => {
                write!(
                    out,
                    "{n_rows} rows are never at risk: empty follow-up or no weight"
                )
            }
        }
    }
}

/// A step curve, continuous from the right, with a point at each distinct exit time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curve {
    /// What the numbers are.
    pub quantity: Quantity,
    /// The cause whose incidence it is, or the state whose occupancy; `None` for all causes together.
    pub cause: Option<u32>,
    /// Confidence level of the limits.
    pub level: f64,
    /// How the limits are made.
    pub limits: Limits,
    /// Which variance is printed.
    pub variance: Variance,
    /// Rows of the sample, those never at risk included; subjects for mean counts and occupancies.
    pub n: usize,
    /// One point for each distinct exit time, increasing.
    pub points: Vec<CurvePoint>,
    /// What the reader must know.
    pub notes: Vec<CurveNote>,
    /// When rows came under observation; `None` when all did at the origin.
    #[serde(skip)]
    pub(crate) entered: Option<Arc<[Entered]>>,
    /// The value before the first point, and its variance.
    #[serde(skip)]
    pub(crate) start: Start,
}

/// A curve before its first point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Start {
    pub(crate) value: f64,
    /// 0 but for an occupancy when subjects start in several states.
    pub(crate) variance: f64,
}

impl Start {
    /// A value that is certain.
    pub(crate) fn at(value: f64) -> Self {
        Self {
            value,
            variance: 0.0,
        }
    }
}

/// Sum of the weights that entered at or before a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Entered {
    pub(crate) time: f64,
    pub(crate) n_so_far: f64,
}

/// Share by which an asked time may fall short of a point's and still reach it.
pub(crate) const TIME_TOLERANCE: f64 = 1.5e-8;

impl Curve {
    /// The curve at any time: the last step at or before it, with the numbers at risk and the events of that very time.
    ///
    /// Before the first point the estimate is the starting value (1 or 0) with standard error 0 and both limits equal
    /// to it. `None` for a negative or unordered time and past the last observation, where nothing is known.
    pub fn at(&self, time: f64) -> Option<CurvePoint> {
        if time.is_nan() || time < 0.0 || self.is_past_the_last(time) {
            return None;
        }
        let n_passed = self.n_points_up_to(time);
        let n_at_risk = self.n_at_risk_at(time);
        let Some(&step) = n_passed
            .checked_sub(1)
            .and_then(|last| self.points.get(last))
        else {
            return Some(self.before_the_first(time, n_at_risk));
        };
        let is_at_step = step.time >= time - time * TIME_TOLERANCE;
        Some(CurvePoint {
            time,
            n_at_risk: if is_at_step {
                step.n_at_risk
            } else {
                n_at_risk
            },
            n_events: if is_at_step { step.n_events } else { 0.0 },
            n_censored: if is_at_step { step.n_censored } else { 0.0 },
            ..step
        })
    }

    /// Sum of the weights at risk just before `time`: entered before it and not yet out. At time 0, those at risk there.
    pub fn n_at_risk_at(&self, time: f64) -> f64 {
        let next = self
            .points
            .partition_point(|point| point.time < time - time * TIME_TOLERANCE);
        let Some(next) = self.points.get(next) else {
            return 0.0;
        };
        match &self.entered {
            None => next.n_at_risk,
            Some(entered) => {
                // whoever is at risk at the next point and entered in between is not yet here
                let n_later =
                    n_entered_before(entered, next.time) - n_entered_before(entered, time);
                (next.n_at_risk - n_later).max(0.0)
            }
        }
    }

    fn before_the_first(&self, time: f64, n_at_risk: f64) -> CurvePoint {
        let Start { value, variance } = self.start;
        let limits = if variance > 0.0 {
            crate::distribution::normal_multiplier(self.level).and_then(|multiplier| {
                limits::pointwise_limits(
                    self.quantity,
                    self.limits,
                    multiplier,
                    value,
                    variance.sqrt(),
                )
            })
        } else {
            Some(ConfidenceLimits {
                lower: value,
                upper: value,
            })
        };
        CurvePoint {
            time,
            n_at_risk,
            n_events: 0.0,
            n_censored: 0.0,
            estimate: value,
            std_error: Some(variance.sqrt()),
            lower: limits.map(|limits| limits.lower),
            upper: limits.map(|limits| limits.upper),
        }
    }

    fn n_points_up_to(&self, time: f64) -> usize {
        self.points
            .partition_point(|point| point.time <= time + time * TIME_TOLERANCE)
    }

    fn is_past_the_last(&self, time: f64) -> bool {
        self.points
            .last()
            .is_none_or(|last| time > last.time + last.time * TIME_TOLERANCE)
    }
}

/// Sum of the weights that entered before `time`, those of the origin always.
fn n_entered_before(entered: &[Entered], time: f64) -> f64 {
    let n_before = entered.partition_point(|entered| {
        entered.time == 0.0 || entered.time < time - time * TIME_TOLERANCE
    });
    n_before
        .checked_sub(1)
        .and_then(|last| entered.get(last))
        .map_or(0.0, |entered| entered.n_so_far)
}
