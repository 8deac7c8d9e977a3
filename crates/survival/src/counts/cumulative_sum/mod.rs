//! Risk-adjusted cumulative sums: each person's outcome weighed against that person's own chance.

mod run_length;

use serde::{Deserialize, Serialize};

use crate::SurvivalError;
use crate::counts::checks::{check_above_zero, check_probabilities};
use crate::sample::check_length;

pub use run_length::{
    LimitSearch, RunLength, RunLengthSimulation, SimulatedLimit, limit_for_run_length,
    simulated_run_length,
};

/// What happens to the sum after a signal.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AfterSignal {
    /// It goes on.
    #[default]
    Continue,
    /// It starts again from 0 with the next person.
    Restart,
}

/// Settings of a risk-adjusted cumulative sum.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CumulativeSumOptions {
    /// Odds ratio to be found: 2 for twice the odds of the event, 0.5 for half. Above 0, not 1.
    pub odds_ratio: f64,
    /// The sum signals above this; choose it by [`limit_for_run_length`].
    pub limit: f64,
    /// What happens after a signal.
    pub after_signal: AfterSignal,
}

/// One person's step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CumulativeSumStep {
    /// Place in the series, from 1.
    pub position: usize,
    /// Log likelihood ratio of this outcome, the changed odds against the predicted ones.
    pub score: f64,
    /// The sum after this person, 0 or more.
    pub sum: f64,
    /// Whether the sum lies above the limit.
    pub is_signal: bool,
}

/// Risk-adjusted cumulative sum of outcomes in time order.
///
/// `chances` are the predicted chances of the event (0 to 1), `has_event` the outcomes. Score of an event ln R - ln(1 - p + R p),
/// of none -ln(1 - p + R p); the sum never falls below 0. With an odds ratio
/// below 1 the sum rises as events grow rarer. Errs when lengths differ, a chance lies outside [0, 1] or a
/// setting is out of range. Outcomes must be mature: a late event is no event here.
/// Source: Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441-452, section 2.
pub fn risk_adjusted_cumulative_sum(
    chances: &[f64],
    has_event: &[bool],
    options: &CumulativeSumOptions,
) -> Result<Vec<CumulativeSumStep>, SurvivalError> {
    check_length("event", has_event.len(), chances.len())?;
    check_probabilities("chance", chances)?;
    check_odds_ratio(options.odds_ratio)?;
    check_above_zero("limit", options.limit)?;
    let mut sum = 0.0;
    let steps = chances
        .iter()
        .zip(has_event)
        .zip(1..)
        .map(|((chance, event), position)| {
            let score = score(*chance, *event, options.odds_ratio);
            if sum > options.limit && options.after_signal == AfterSignal::Restart {
                sum = 0.0;
            }
            sum = f64::max(0.0, sum + score);
            CumulativeSumStep {
                position,
                score,
                sum,
                is_signal: sum > options.limit,
            }
        });
    Ok(steps.collect())
}

fn score(chance: f64, has_event: bool, odds_ratio: f64) -> f64 {
    let shared = (1.0 - chance + odds_ratio * chance).ln();
    if has_event {
        odds_ratio.ln() - shared
    } else {
        -shared
    }
}

fn check_odds_ratio(odds_ratio: f64) -> Result<(), SurvivalError> {
    check_above_zero("odds ratio", odds_ratio)?;
    if odds_ratio == 1.0 {
        return Err(SurvivalError::SettingOutOfRange {
            setting: "odds ratio",
            rule: "must differ from 1",
        });
    }
    Ok(())
}
