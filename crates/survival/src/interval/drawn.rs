//! Incidence where events of one cause are only known to lie between two times: dates drawn inside their intervals.

use serde::Serialize;

use crate::curve::{CurveOptions, Limits, Quantity, Variance, pointwise_limits};
use crate::random::Stream;
use crate::sample::check_length;
use crate::{Sample, SurvivalError, incidence_of_cause};

/// Settings of the draws.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DrawOptions {
    /// How many times the dates are drawn, 2 to 1000.
    pub n_draws: usize,
    /// Seed; the same seed gives the same dates.
    pub seed: u64,
    /// Confidence level, between 0 and 1.
    pub level: f64,
    /// How limits are made.
    pub limits: Limits,
}

/// Incidence of one cause, pooled over draws.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrawnIncidence {
    /// The cause.
    pub cause: u32,
    /// Settings in force.
    pub options: DrawOptions,
    /// One point a time asked for, in that order.
    pub points: Vec<DrawnPoint>,
}

/// One pooled estimate. Nothing is known past the last observation: all numbers are `None` there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrawnPoint {
    /// The time.
    pub time: f64,
    /// Mean of the estimates of the draws.
    pub estimate: Option<f64>,
    /// Square root of the mean squared standard error of the draws, plus (1 + 1/draws) times the variance of their estimates.
    pub std_error: Option<f64>,
    /// Standard deviation of the estimates of the draws: what not knowing the dates adds.
    pub between: Option<f64>,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// Cumulative incidence of `cause` by each time, where an event of that cause is known to lie in `(not_yet, exit]` of its
/// row and every other exit is known exactly.
///
/// Each draw puts every such event at a time drawn evenly from its interval and makes the Aalen-Johansen estimate with
/// its infinitesimal jackknife variance (clusters and weights honoured); the draws are pooled by Rubin's rules with normal
/// limits. `not_yet` is read for rows of that cause only; an interval that does not open, or opens before a delayed entry, is
/// taken from its exit or from its entry. Drawing evenly takes the event to be equally likely at every moment of its
/// interval, which is right to the first order in the length of the interval.
///
/// # Errors
/// `UnequalColumns`, `NotFinite` or `Negative` for `not_yet`; draws outside 2 to 1000; otherwise as [`crate::aalen_johansen`].
///
/// Source: Rubin, Multiple Imputation for Nonresponse in Surveys, 1987, eqs. 3.1.2 to 3.1.5 (from memory).
pub fn drawn_incidence(
    sample: &Sample,
    not_yet: &[f64],
    cause: u32,
    times: &[f64],
    options: &DrawOptions,
) -> Result<DrawnIncidence, SurvivalError> {
    check_length("not_yet", not_yet.len(), sample.len())?;
    if !(2..=1000).contains(&options.n_draws) {
        return Err(SurvivalError::SettingOutOfRange {
            setting: "n_draws",
            rule: "must be a number from 2 to 1000",
        });
    }
    for (row, (&lower, &found)) in (1..).zip(not_yet.iter().zip(sample.cause())) {
        let column = "not_yet";
        if found == cause && !lower.is_finite() {
            return Err(SurvivalError::NotFinite { column, row });
        }
        if found == cause && lower < 0.0 {
            return Err(SurvivalError::Negative { column, row });
        }
    }
    let curve_options = CurveOptions {
        level: options.level,
        limits: options.limits,
        variance: Variance::Robust,
    };
    let multiplier = curve_options.multiplier()?;
    let mut of_draws: Vec<Vec<Option<(f64, f64)>>> = vec![Vec::new(); times.len()];
    for draw in 0..options.n_draws {
        let dated = dated(sample, not_yet, cause, &mut Stream::new(options.seed, draw))?;
        let incidence = incidence_of_cause(&dated.with_causes(&[cause]), cause, &curve_options)?;
        let curve = incidence.curve.as_ref();
        // Once nobody is left without an event the curve stays where it is.
        let end = incidence.event_free_at_last;
        let end = end.filter(|(_, event_free)| *event_free <= 1e-12);
        let end = end.map_or(f64::INFINITY, |(time, _)| time);
        for (time, found) in times.iter().zip(&mut of_draws) {
            let point = curve.and_then(|curve| curve.at(time.min(end)));
            found.push(point.and_then(|point| Some((point.estimate, point.std_error?))));
        }
    }
    let points = times
        .iter()
        .zip(of_draws)
        .map(|(&time, found)| pooled(time, &found, multiplier, options.limits))
        .collect();
    Ok(DrawnIncidence {
        cause,
        options: *options,
        points,
    })
}

/// The sample with a drawn exit for every event of the cause.
fn dated(
    sample: &Sample,
    not_yet: &[f64],
    cause: u32,
    stream: &mut Stream,
) -> Result<Sample, SurvivalError> {
    let entry = sample.entry();
    let exit: Vec<f64> = sample
        .exit()
        .iter()
        .enumerate()
        .map(|(row, &exit)| {
            let is_event = sample.cause().get(row) == Some(&cause);
            let share = stream.uniform();
            let entered = entry.and_then(|entry| entry.get(row)).copied();
            let lower = not_yet.get(row).copied().unwrap_or(exit);
            let lower = lower.max(entered.unwrap_or(0.0));
            if is_event && lower < exit {
                lower + share * (exit - lower)
            } else {
                exit
            }
        })
        .collect();
    sample.clone().with_exit(exit)
}

fn pooled(time: f64, found: &[Option<(f64, f64)>], multiplier: f64, limits: Limits) -> DrawnPoint {
    let known: Option<Vec<(f64, f64)>> = found.iter().copied().collect();
    let Some(known) = known.filter(|known| known.len() > 1) else {
        return DrawnPoint {
            time,
            estimate: None,
            std_error: None,
            between: None,
            lower: None,
            upper: None,
        };
    };
    let n_draws = known.len() as f64;
    let estimate = known.iter().map(|(estimate, _)| estimate).sum::<f64>() / n_draws;
    let within = known.iter().map(|(_, error)| error * error).sum::<f64>() / n_draws;
    let squares = known.iter().map(|(own, _)| (own - estimate).powi(2));
    let between = squares.sum::<f64>() / (n_draws - 1.0);
    let std_error = (within + (1.0 + 1.0 / n_draws) * between).sqrt();
    let limits = pointwise_limits(Quantity::Incidence, limits, multiplier, estimate, std_error);
    DrawnPoint {
        time,
        estimate: Some(estimate),
        std_error: Some(std_error),
        between: Some(between.sqrt()),
        lower: limits.map(|limits| limits.lower),
        upper: limits.map(|limits| limits.upper),
    }
}
