//! Quantiles of a curve, with limits from its pointwise band.

use super::{Curve, CurvePoint, Quantity};
use serde::Serialize;

/// The time by which a share has had the event.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Quantile {
    /// The share, between 0 and 1.
    pub probability: f64,
    /// The time, in the unit of the sample; `None` when the curve does not get there.
    pub estimate: Option<f64>,
    /// Lower limit; `None` when the band does not get there.
    pub lower: Option<f64>,
    /// Upper limit; `None` when the band does not get there.
    pub upper: Option<f64>,
}

/// Products like (1 - 1/2)(1 - 1/3) miss 1/3 in the last digit; within this much a value is met exactly.
pub(super) const TOLERANCE: f64 = 1.5e-8;

impl Curve {
    /// The first time at which the share with the event passes `probability`.
    ///
    /// When the curve equals the probability exactly over a span, the middle of the span (to the last observation when it never moves on).
    /// Limits are where the pointwise band does the same; where the band is not monotone (early small risk sets under
    /// delayed entry), where its values put in order do. All parts are `None` for a probability outside (0, 1) and for
    /// curves that are not the probability of an event.
    /// Source: Brookmeyer and Crowley, Biometrics 1982;38:29.
    pub fn quantile(&self, probability: f64) -> Quantile {
        let none = Quantile {
            probability,
            estimate: None,
            lower: None,
            upper: None,
        };
        if !(probability > 0.0 && probability < 1.0) {
            return none;
        }
        let first = |share: &dyn Fn(&CurvePoint) -> Option<f64>| {
            time_of_passing(&self.points, probability, share)
        };
        match self.quantity {
            Quantity::EventFree => Quantile {
                probability,
                estimate: first(&|point| Some(1.0 - point.estimate)),
                lower: first(&|point| point.lower.map(|lower| 1.0 - lower)),
                upper: first(&|point| point.upper.map(|upper| 1.0 - upper)),
            },
            Quantity::Incidence => Quantile {
                probability,
                estimate: first(&|point| Some(point.estimate)),
                lower: first(&|point| point.upper),
                upper: first(&|point| point.lower),
            },
            Quantity::CumulativeHazard | Quantity::MeanCount | Quantity::Occupancy => none,
        }
    }
}

/// The time at which the share passes the probability: that of the smallest share beyond it, which is the first time
/// when the shares rise. (Under delayed entry a band may fall back; a passing that it takes back again is not the one meant.)
fn time_of_passing(
    points: &[CurvePoint],
    probability: f64,
    share: &dyn Fn(&CurvePoint) -> Option<f64>,
) -> Option<f64> {
    let nearest_from = |bound: f64| {
        let mut nearest: Option<(f64, f64)> = None;
        for point in points {
            if let Some(share) = share(point).filter(|&share| share >= bound)
                && nearest.is_none_or(|(smallest, _)| share < smallest)
            {
                nearest = Some((share, point.time));
            }
        }
        nearest.map(|(_, time)| time)
    };
    let met = nearest_from(probability - TOLERANCE)?;
    let is_still_met = |last: &&CurvePoint| {
        share(last).is_some_and(|share| (share - probability).abs() < TOLERANCE)
    };
    let passed = nearest_from(probability + TOLERANCE)
        .or_else(|| points.last().filter(is_still_met).map(|last| last.time))?;
    Some(met + (passed - met) / 2.0)
}
