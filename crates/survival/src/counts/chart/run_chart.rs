//! Run charts: the median and the runs around it, with no assumption about the shape of the data.

use serde::{Deserialize, Serialize};

use super::rules::{longest_runs, steady_stretches};
use crate::SurvivalError;
use crate::counts::checks::{check_finite, too_few};
use crate::counts::sample_quantile;
use crate::distribution::{Tail, binomial_probability};

/// Fixed lengths of a run chart's rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RunChartOptions {
    /// Points on one side of the median that make a shift.
    pub shift_length: usize,
    /// Points going one way that make a trend.
    pub trend_length: usize,
}

impl Default for RunChartOptions {
    /// Shift of 6, trend of 5. Source: Perla, Provost and Murray, BMJ Qual Saf 2011;20:46-51.
    fn default() -> RunChartOptions {
        RunChartOptions {
            shift_length: 6,
            trend_length: 5,
        }
    }
}

/// A series around its median.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunChart {
    /// Median of the values.
    pub median: f64,
    /// Points not on the median.
    pub n_useful: usize,
    /// Runs on one side of the median.
    pub n_runs: usize,
    /// Points in the longest run.
    pub longest_run: usize,
    /// Longest run that chance makes common: round(log2(useful) + 3). `None` without a useful point.
    pub longest_run_limit: Option<usize>,
    /// Times the series crosses the median.
    pub n_crossings: usize,
    /// Fewest crossings that chance makes common: 5% quantile of a fair binomial over useful - 1 chances.
    pub crossings_limit: Option<usize>,
    /// Whether the longest run exceeds its limit or the crossings fall short of theirs.
    pub is_shifted: bool,
    /// Whether a run reaches the fixed shift length.
    pub has_shift: bool,
    /// Whether a stretch going one way reaches the fixed trend length; equal neighbours neither add nor break.
    pub has_trend: bool,
    /// The fixed lengths.
    pub options: RunChartOptions,
}

/// Runs and crossings of `values`, in time order, around their median.
///
/// Points on the median are left out: they neither add to a run nor break it. Errs when a value is not finite or there is none.
/// Source: Anhoej and Olesen, PLoS ONE 2014;9:e113825 (limits); Perla, Provost and Murray 2011 (fixed lengths).
pub fn run_chart(values: &[f64], options: RunChartOptions) -> Result<RunChart, SurvivalError> {
    check_finite("value", values)?;
    let median = sample_quantile(values, 0.5).ok_or_else(|| too_few(0, 1))?;
    let sides: Vec<Option<bool>> = values
        .iter()
        .map(|value| (*value != median).then_some(*value > median))
        .collect();
    let runs = longest_runs(&sides);
    let n_useful = sides.iter().flatten().count();
    let n_crossings = runs.len().saturating_sub(1);
    let longest_run = runs.iter().map(|run| run.n_points).max().unwrap_or(0);
    let longest_run_limit =
        (n_useful > 0).then(|| ((n_useful as f64).log2() + 3.0).round() as usize);
    let crossings_limit = n_useful.checked_sub(1).and_then(fewest_common_crossings);
    Ok(RunChart {
        median,
        n_useful,
        n_runs: runs.len(),
        longest_run,
        longest_run_limit,
        n_crossings,
        crossings_limit,
        is_shifted: longest_run_limit.is_some_and(|limit| longest_run > limit)
            || crossings_limit.is_some_and(|limit| n_crossings < limit),
        has_shift: longest_run >= options.shift_length.max(1),
        has_trend: steady_stretches(values)
            .iter()
            .any(|stretch| stretch.n_points >= options.trend_length.max(2)),
        options,
    })
}

/// Smallest count whose lower tail reaches 5% among `n_chances` fair ones.
fn fewest_common_crossings(n_chances: usize) -> Option<usize> {
    (0..=n_chances).find(|&count| {
        binomial_probability(count as u64, Tail::Lower, n_chances as u64, 0.5)
            .is_some_and(|tail| tail >= 0.05)
    })
}
