//! Charts with memory: they find small lasting shifts sooner than single points do.

use serde::Serialize;

use super::{D2_OF_TWO, SIGMA_LIMIT, baseline, mean, moving_ranges};
use crate::SurvivalError;
use crate::counts::checks::{check_above_zero, check_finite, check_share, too_few};

/// Centre and standard deviation of measurements when nothing changes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MeasurementBaseline {
    /// Mean.
    pub centre: f64,
    /// Standard deviation: mean moving range over 1.128.
    pub sigma: f64,
}

/// Centre and standard deviation from the first `n_baseline` values, or all.
///
/// Errs when a value is not finite, there are fewer than two, or all are equal (no spread to measure in).
pub fn measurement_baseline(
    values: &[f64],
    n_baseline: Option<usize>,
) -> Result<MeasurementBaseline, SurvivalError> {
    check_finite("value", values)?;
    let own = baseline(values, n_baseline);
    let short = || too_few(own.len(), 2);
    let centre = mean(own).ok_or_else(short)?;
    let sigma = mean(&moving_ranges(own)).ok_or_else(short)? / D2_OF_TWO;
    check_above_zero("moving range of the baseline", sigma)?;
    Ok(MeasurementBaseline { centre, sigma })
}

/// Exponentially weighted mean at one point, with its limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SmoothedPoint {
    /// Place in the series, from 1.
    pub position: usize,
    /// Weighted mean of this and the earlier values.
    pub value: f64,
    /// Lower limit; widens to its final place within the first points.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Whether the value lies strictly beyond a limit.
    pub is_outside: bool,
}

/// Exponentially weighted moving average with exact limits; `weight` (0 to 1) is that of the newest value.
///
/// The mean starts at the centre. Errs when a value is not finite the weight is not above 0 and below 1, or
/// sigma is not above 0.
/// Source: Roberts, Technometrics 1959;1:239-250; limits, NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4.
pub fn exponentially_weighted_chart(
    values: &[f64],
    weight: f64,
    in_control: MeasurementBaseline,
) -> Result<Vec<SmoothedPoint>, SurvivalError> {
    check_finite("value", values)?;
    check_share("weight", weight)?;
    let MeasurementBaseline { centre, sigma } = in_control;
    check_above_zero("sigma", sigma)?;
    let (mut mean, mut rest) = (centre, 1.0);
    let points = values.iter().zip(1..).map(|(value, position)| {
        mean = weight * value + (1.0 - weight) * mean;
        rest *= (1.0 - weight) * (1.0 - weight);
        let width = SIGMA_LIMIT * sigma * (weight / (2.0 - weight) * (1.0 - rest)).sqrt();
        let (lower, upper) = (centre - width, centre + width);
        SmoothedPoint {
            position,
            value: mean,
            lower,
            upper,
            is_outside: mean < lower || mean > upper,
        }
    });
    Ok(points.collect())
}

/// Upward and downward cumulative sums at one point, in standard deviations.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CumulativeSumPoint {
    /// Place in the series, from 1.
    pub position: usize,
    /// Sum of what exceeds the centre by more than the allowance, never below 0.
    pub upper: f64,
    /// Sum of what falls short of the centre by more than the allowance, never below 0.
    pub lower: f64,
}

/// Two one-sided cumulative sums of measurements; `allowance` in standard deviations, usually half the shift to be found.
///
/// Errs when a value is not finite or the allowance or sigma is not above 0.
/// Source: Page, Biometrika 1954;41:100-115; NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3.
pub fn measurement_cumulative_sums(
    values: &[f64],
    allowance: f64,
    in_control: MeasurementBaseline,
) -> Result<Vec<CumulativeSumPoint>, SurvivalError> {
    check_finite("value", values)?;
    check_above_zero("allowance", allowance)?;
    check_above_zero("sigma", in_control.sigma)?;
    let (mut upper, mut lower) = (0.0_f64, 0.0_f64);
    let points = values.iter().zip(1..).map(|(value, position)| {
        let z = (value - in_control.centre) / in_control.sigma;
        upper = (upper + z - allowance).max(0.0);
        lower = (lower - z - allowance).max(0.0);
        CumulativeSumPoint {
            position,
            upper,
            lower,
        }
    });
    Ok(points.collect())
}
