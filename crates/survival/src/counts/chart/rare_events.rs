//! Charts of the gaps between rare events, where counts per period would nearly all be 0.

use super::{
    ChartKind, ChartPoint, ControlChart, MovingRangeRule, Range, WAITING_TIME_POWER, baseline,
    individuals_chart, mean, point,
};
use crate::SurvivalError;
use crate::counts::checks::{check_amounts, too_few};

/// Chart of the number of cases between rare events (g chart): centre mu, limits mu plus and minus 3 sqrt(mu (mu + 1)), from 0.
///
/// High is good where the event is bad: a point above the upper limit is an unusually long spell without an event. The
/// geometric law is skew, so rules on zones and sides of the centre do not apply. Errs when the baseline is empty.
/// Source: Kaminsky, Benneyan, Davis and Burke, J Qual Technol 1992;24:63-69.
pub fn cases_between_chart(
    n_between: &[u64],
    n_baseline: Option<usize>,
) -> Result<ControlChart, SurvivalError> {
    let values: Vec<f64> = n_between.iter().map(|count| *count as f64).collect();
    let own = baseline(&values, n_baseline);
    let centre = mean(own).ok_or_else(|| too_few(0, 1))?;
    let sigma = (centre * (centre + 1.0)).sqrt();
    Ok(ControlChart {
        kind: ChartKind::CasesBetween,
        centre,
        sigma_z: None,
        n_baseline: own.len(),
        points: values
            .iter()
            .zip(1..)
            .map(|(value, position)| point(position, *value, centre, sigma, Range::AMOUNT))
            .collect(),
        has_even_zones: false,
    })
}

/// Chart of the time between rare events (t chart).
///
/// Times are raised to 1/3.6, charted as single measurements (mean moving range), and centre and limits brought back by
/// the power 3.6; a lower limit below 0 on the transformed scale is 0. `deviation` is on the transformed scale, which is
/// nearly normal, so all run rules apply. Unit: that of `times`. Errs when a time is negative or not finite or the baseline
/// has fewer than two.
/// Source: Nelson, J Qual Technol 1994;26:239-243.
pub fn time_between_chart(
    times: &[f64],
    n_baseline: Option<usize>,
) -> Result<ControlChart, SurvivalError> {
    check_amounts("time", times)?;
    let transformed: Vec<f64> = times
        .iter()
        .map(|time| time.powf(WAITING_TIME_POWER))
        .collect();
    let chart = individuals_chart(&transformed, n_baseline, MovingRangeRule::Mean)?.chart;
    let back = |value: f64| value.max(0.0).powf(1.0 / WAITING_TIME_POWER);
    let points = chart.points.iter().zip(times).map(|(point, time)| {
        let (lower, upper) = (point.lower.map(back), point.upper.map(back));
        ChartPoint {
            value: Some(*time),
            lower,
            upper,
            ..*point
        }
    });
    Ok(ControlChart {
        kind: ChartKind::TimeBetween,
        centre: back(chart.centre),
        points: points.collect(),
        ..chart
    })
}
