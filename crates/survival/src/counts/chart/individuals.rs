//! Charts of single measurements (XmR).

use serde::{Deserialize, Serialize};

use super::{
    ChartKind, ControlChart, D2_OF_TWO, INDIVIDUALS_PER_MEAN_RANGE, INDIVIDUALS_PER_MEDIAN_RANGE,
    RANGE_LIMIT_PER_MEAN_RANGE, Range, SIGMA_LIMIT, baseline, mean, moving_ranges, point,
};
use crate::SurvivalError;
use crate::counts::checks::{check_finite, too_few};
use crate::counts::sample_quantile;

/// How limits follow from the moving ranges.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MovingRangeRule {
    /// 2.66 mean moving ranges, the constant as printed.
    #[default]
    Mean,
    /// 3 / 1.128 mean moving ranges, as the NIST handbook computes.
    MeanOverD2,
    /// 3.145 median moving ranges: one jump does not widen the limits.
    Median,
    /// 2.66 mean moving ranges of those not above their own upper limit.
    Screened,
}

/// Individual values with their moving ranges.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IndividualsChart {
    /// The values with centre (mean of the baseline) and limits.
    pub chart: ControlChart,
    /// Absolute differences of neighbours, one fewer than the values.
    pub moving_ranges: Vec<f64>,
    /// Mean moving range of the baseline.
    pub mean_moving_range: f64,
    /// Median moving range of the baseline.
    pub median_moving_range: f64,
    /// Mean of the baseline's moving ranges that do not exceed their upper limit.
    pub screened_mean_moving_range: f64,
    /// Upper limit of moving ranges, 3.267 mean moving ranges.
    pub moving_range_upper: f64,
    /// How the limits were made.
    pub rule: MovingRangeRule,
}

/// Chart of single measurements in time order; centre and limits from the first `n_baseline` (or all).
///
/// Errs when a value is not finite or the baseline has fewer than two values. Values need about a normal shape; limits
/// are not clipped, since a measurement may be negative.
/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2.
pub fn individuals_chart(
    values: &[f64],
    n_baseline: Option<usize>,
    rule: MovingRangeRule,
) -> Result<IndividualsChart, SurvivalError> {
    check_finite("value", values)?;
    let own = baseline(values, n_baseline);
    let ranges = moving_ranges(own);
    let short = || too_few(own.len(), 2);
    let centre = mean(own).ok_or_else(short)?;
    let mean_moving_range = mean(&ranges).ok_or_else(short)?;
    let median_moving_range = sample_quantile(&ranges, 0.5).ok_or_else(short)?;
    let moving_range_upper = RANGE_LIMIT_PER_MEAN_RANGE * mean_moving_range;
    let quiet: Vec<f64> = ranges
        .iter()
        .copied()
        .filter(|range| *range <= moving_range_upper)
        .collect();
    let screened_mean_moving_range = mean(&quiet).ok_or_else(short)?;
    let width = match rule {
        MovingRangeRule::Mean => INDIVIDUALS_PER_MEAN_RANGE * mean_moving_range,
        MovingRangeRule::MeanOverD2 => SIGMA_LIMIT / D2_OF_TWO * mean_moving_range,
        MovingRangeRule::Median => INDIVIDUALS_PER_MEDIAN_RANGE * median_moving_range,
        MovingRangeRule::Screened => INDIVIDUALS_PER_MEAN_RANGE * screened_mean_moving_range,
    };
    let points = values
        .iter()
        .zip(1..)
        .map(|(value, position)| {
            point(
                position,
                *value,
                centre,
                width / SIGMA_LIMIT,
                Range::UNBOUNDED,
            )
        })
        .collect();
    Ok(IndividualsChart {
        chart: ControlChart {
            kind: ChartKind::Individuals,
            centre,
            sigma_z: None,
            n_baseline: own.len(),
            points,
            has_even_zones: true,
        },
        moving_ranges: moving_ranges(values),
        mean_moving_range,
        median_moving_range,
        screened_mean_moving_range,
        moving_range_upper,
        rule,
    })
}
