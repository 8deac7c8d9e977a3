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
    false_alarm_chances(rules, n_points, [limits], n_simulations, seed).map(|[alarm]| alarm)
}

/// The same for several sources of the limits, on the same noise: the digits are those of asking one by one.
///
/// # Errors
/// As [`false_alarm_chance`].
pub fn false_alarm_chances<const N: usize>(
    rules: &RuleSet,
    n_points: usize,
    limits: [LimitSource; N],
    n_simulations: usize,
    seed: u64,
) -> Result<[FalseAlarm; N], SurvivalError> {
    check_simulation("number of simulations", n_simulations)?;
    check_simulation("number of points", n_points)?;
    for limits in limits {
        if let LimitSource::EarlierPoints { n_baseline } | LimitSource::FirstPoints { n_baseline } =
            limits
        {
            check_simulation("number of points that make the limits", n_baseline)?;
        }
    }
    let n_drawn = limits.map(|limits| n_earlier(limits) + n_points);
    let most_drawn = n_drawn.into_iter().max().unwrap_or(n_points);
    let alarms = repeated(n_simulations, available_threads(), |repetition| {
        let mut stream = Stream::new(seed, repetition);
        let noise: Vec<f64> = (0..most_drawn).map(|_| stream.normal()).collect();
        let mut is_alarm = [false; N];
        for ((is_alarm, limits), n_drawn) in is_alarm.iter_mut().zip(limits).zip(n_drawn) {
            let chart = noise_chart(noise.get(..n_drawn).unwrap_or(&noise), limits)?;
            *is_alarm = !signals(&chart, rules).is_empty();
        }
        Ok(is_alarm)
    });
    let alarms = alarms
        .into_iter()
        .collect::<Result<Vec<[bool; N]>, SurvivalError>>()?;
    let mut n_alarms = [0_usize; N];
    for alarms in &alarms {
        for (n, is_alarm) in n_alarms.iter_mut().zip(alarms) {
            *n += usize::from(*is_alarm);
        }
    }
    Ok(n_alarms.map(|n| {
        let chance = n as f64 / n_simulations as f64;
        FalseAlarm {
            chance,
            std_error: (chance * (1.0 - chance) / n_simulations as f64).sqrt(),
            n_points,
            n_simulations,
            seed,
        }
    }))
}

/// Points before those judged that the limits are made from.
fn n_earlier(limits: LimitSource) -> usize {
    match limits {
        LimitSource::EarlierPoints { n_baseline } => n_baseline,
        LimitSource::Known | LimitSource::SamePoints | LimitSource::FirstPoints { .. } => 0,
    }
}

fn noise_chart(noise: &[f64], limits: LimitSource) -> Result<ControlChart, SurvivalError> {
    match limits {
        LimitSource::Known => Ok(known_chart(noise)),
        LimitSource::SamePoints => Ok(individuals_chart(noise, None, MovingRangeRule::Mean)?.chart),
        LimitSource::FirstPoints { n_baseline } => {
            Ok(individuals_chart(noise, Some(n_baseline), MovingRangeRule::Mean)?.chart)
        }
        LimitSource::EarlierPoints { n_baseline } => {
            let mut chart =
                individuals_chart(noise, Some(n_baseline), MovingRangeRule::Mean)?.chart;
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
