//! How often a set of rules signals when nothing happened.

use serde::{Deserialize, Serialize};

use super::{
    ChartKind, ControlChart, MovingRangeRule, Range, RuleSet, individuals_chart, point, signals,
};
use crate::SurvivalError;
use crate::counts::checks::check_simulation;
use crate::random::{Stream, available_threads, repeated};

/// Where the limits of a simulated chart come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LimitSource {
    /// The true centre and standard deviation.
    Known,
    /// The mean and mean moving range of the simulated points themselves; a far point then hides in the limits it widened.
    SamePoints,
    /// The mean and mean moving range of the first simulated points, which are judged like those after them.
    FirstPoints {
        /// Number of first points.
        n_baseline: usize,
    },
    /// The mean and mean moving range of earlier simulated points, which are not judged themselves.
    EarlierPoints {
        /// Number of earlier points.
        n_baseline: usize,
    },
}

/// Chance of at least one false signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FalseAlarm {
    /// Share of simulated charts with a signal, 0 to 1.
    pub chance: f64,
    /// Standard error of that share from the number of simulations.
    pub std_error: f64,
    /// Points of each chart.
    pub n_points: usize,
    /// Charts simulated.
    pub n_simulations: usize,
    /// Seed of the simulation.
    pub seed: u64,
}

/// Chance that `rules` signal at least once on `n_points` of independent normal noise.
///
/// Simulated with a seed: the same arguments give the same digits. Errs when there is no simulation, no point, or fewer than
/// two points to take limits from.
pub fn false_alarm_chance(
    rules: &RuleSet,
    n_points: usize,
    limits: LimitSource,
    n_simulations: usize,
    seed: u64,
) -> Result<FalseAlarm, SurvivalError> {
    check_simulation("number of simulations", n_simulations)?;
    check_simulation("number of points", n_points)?;
    if let LimitSource::EarlierPoints { n_baseline } | LimitSource::FirstPoints { n_baseline } =
        limits
    {
        check_simulation("number of points that make the limits", n_baseline)?;
    }
    let alarms = repeated(n_simulations, available_threads(), |repetition| {
        let mut stream = Stream::new(seed, repetition);
        noise_chart(&mut stream, n_points, limits).map(|chart| !signals(&chart, rules).is_empty())
    });
    let alarms = alarms
        .into_iter()
        .collect::<Result<Vec<bool>, SurvivalError>>()?;
    let chance = alarms.iter().filter(|alarm| **alarm).count() as f64 / n_simulations as f64;
    let std_error = (chance * (1.0 - chance) / n_simulations as f64).sqrt();
    Ok(FalseAlarm {
        chance,
        std_error,
        n_points,
        n_simulations,
        seed,
    })
}

fn noise_chart(
    stream: &mut Stream,
    n_points: usize,
    limits: LimitSource,
) -> Result<ControlChart, SurvivalError> {
    let n_baseline = match limits {
        LimitSource::EarlierPoints { n_baseline } => n_baseline,
        LimitSource::Known | LimitSource::SamePoints | LimitSource::FirstPoints { .. } => 0,
    };
    let noise: Vec<f64> = (0..n_baseline + n_points)
        .map(|_| stream.normal())
        .collect();
    match limits {
        LimitSource::Known => Ok(known_chart(&noise)),
        LimitSource::SamePoints => {
            Ok(individuals_chart(&noise, None, MovingRangeRule::Mean)?.chart)
        }
        LimitSource::FirstPoints { n_baseline } => {
            Ok(individuals_chart(&noise, Some(n_baseline), MovingRangeRule::Mean)?.chart)
        }
        LimitSource::EarlierPoints { .. } => {
            let mut chart =
                individuals_chart(&noise, Some(n_baseline), MovingRangeRule::Mean)?.chart;
            chart.points.drain(..n_baseline);
            Ok(chart)
        }
    }
}

fn known_chart(noise: &[f64]) -> ControlChart {
    ControlChart {
        kind: ChartKind::Individuals,
        centre: 0.0,
        sigma_z: None,
        n_baseline: 0,
        points: noise
            .iter()
            .zip(1..)
            .map(|(value, position)| point(position, *value, 0.0, 1.0, Range::UNBOUNDED))
            .collect(),
        has_even_zones: true,
    }
}
