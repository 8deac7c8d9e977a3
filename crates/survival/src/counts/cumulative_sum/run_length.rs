//! How long a risk-adjusted cumulative sum runs before it signals, by seeded simulation.

use serde::{Deserialize, Serialize};

use super::{check_odds_ratio, score};
use crate::SurvivalError;
use crate::counts::checks::{check_above_zero, check_probabilities, check_simulation, too_few};
use crate::counts::sample_quantile;
use crate::random::{Stream, available_threads, repeated};

/// Run length until the first signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RunLength {
    /// Mean number of people until the first signal.
    pub mean: f64,
    /// Standard error of the mean from the number of simulations.
    pub std_error: f64,
    /// Median number of people.
    pub median: f64,
    /// Simulations stopped before a signal; their length counts as the longest allowed, so the mean is then too short.
    pub n_stopped: usize,
    /// Simulations.
    pub n_simulations: usize,
    /// Seed.
    pub seed: u64,
}

/// What a limit is searched for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LimitSearch {
    /// Odds ratio the sum is to find.
    pub odds_ratio: f64,
    /// Wanted mean number of people until a false signal, 1 to 10 million.
    pub wanted_run_length: f64,
    /// Simulations; the relative error of the run length is about 1 / sqrt of this.
    pub n_simulations: usize,
    /// Seed.
    pub seed: u64,
}

/// A limit found by simulation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SimulatedLimit {
    /// Smallest limit whose simulated run length reaches the wanted one; 0 if any signal at all is rare enough.
    pub limit: f64,
    /// Run length at that limit while the predictions hold.
    pub in_control: RunLength,
    /// What was searched for.
    pub search: LimitSearch,
}

/// A sum whose run length is simulated.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RunLengthSimulation {
    /// Odds ratio the sum is to find.
    pub odds_ratio: f64,
    /// The sum signals above this.
    pub limit: f64,
    /// True odds over the predicted ones; 1 gives the time to a false signal.
    pub true_odds_ratio: f64,
    /// People after which a simulation is stopped.
    pub longest: usize,
    /// Simulations, 1 to 10 million.
    pub n_simulations: usize,
    /// Seed.
    pub seed: u64,
}

/// Simulations stop after this many times the wanted (or guessed) run length.
const LONGEST_RUN_FACTOR: f64 = 40.0;

/// Run length of a sum until its first signal.
///
/// People are drawn with replacement from `chances`. Errs when a chance lies outside [0, 1], none lies strictly inside, or
/// a setting is out of range.
/// Source: Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441-452, section 3.
pub fn simulated_run_length(
    chances: &[f64],
    simulation: &RunLengthSimulation,
) -> Result<RunLength, SurvivalError> {
    let RunLengthSimulation {
        odds_ratio,
        limit,
        true_odds_ratio,
        longest,
        n_simulations,
        seed,
    } = *simulation;
    let steps = outcome_steps(chances, odds_ratio, true_odds_ratio)?;
    check_above_zero("limit", limit)?;
    check_simulation("number of simulations", n_simulations)?;
    let lengths = repeated(n_simulations, available_threads(), |repetition| {
        Run::followed(Stream::new(seed, repetition), &steps, limit, longest).length(limit, longest)
    });
    Ok(summary(&lengths, longest, seed))
}

/// Smallest limit at which a false signal comes after the wanted number of people on average.
///
/// One set of simulated runs is followed only as far as needed: each run keeps the heights at which it set a new record,
/// so every limit is judged on the same runs and the mean length never falls as the limit rises. People are drawn with
/// replacement from `chances`, the mix the sum will see. Errs as [`simulated_run_length`].
pub fn limit_for_run_length(
    chances: &[f64],
    search: &LimitSearch,
) -> Result<SimulatedLimit, SurvivalError> {
    let steps = outcome_steps(chances, search.odds_ratio, 1.0)?;
    if !(search.wanted_run_length > 1.0 && search.wanted_run_length <= 1e7) {
        let rule = "must lie above 1 and be at most 10000000";
        return Err(SurvivalError::SettingOutOfRange {
            setting: "wanted run length",
            rule,
        });
    }
    check_simulation("number of simulations", search.n_simulations)?;
    let longest = (search.wanted_run_length * LONGEST_RUN_FACTOR).ceil() as usize;
    let mut cap = 0.5;
    let runs = loop {
        // Streams start anew each time: a run to a higher cap repeats the shorter one and goes on.
        let runs = repeated(search.n_simulations, available_threads(), |repetition| {
            Run::followed(Stream::new(search.seed, repetition), &steps, cap, longest)
        });
        if mean_length(&runs, cap, longest) >= search.wanted_run_length {
            break runs;
        }
        cap *= 1.4;
    };
    let limit = smallest_limit(&runs, search.wanted_run_length, longest);
    let lengths: Vec<f64> = runs.iter().map(|run| run.length(limit, longest)).collect();
    Ok(SimulatedLimit {
        limit,
        in_control: summary(&lengths, longest, search.seed),
        search: *search,
    })
}

/// True chance and scores of one person of the mix.
struct OutcomeStep {
    chance: f64,
    score_of_event: f64,
    score_of_none: f64,
}

fn outcome_steps(
    chances: &[f64],
    odds_ratio: f64,
    true_odds_ratio: f64,
) -> Result<Vec<OutcomeStep>, SurvivalError> {
    check_probabilities("chance", chances)?;
    check_odds_ratio(odds_ratio)?;
    check_above_zero("true odds ratio", true_odds_ratio)?;
    if !chances.iter().any(|chance| *chance > 0.0 && *chance < 1.0) {
        return Err(too_few(0, 1));
    }
    let step = |chance: &f64| OutcomeStep {
        chance: true_odds_ratio * chance / (1.0 - chance + true_odds_ratio * chance),
        score_of_event: score(*chance, true, odds_ratio),
        score_of_none: score(*chance, false, odds_ratio),
    };
    Ok(chances.iter().map(step).collect())
}

/// The records a simulated sum has set, in order.
struct Run {
    records: Vec<Record>,
}

#[derive(Clone, Copy)]
struct Record {
    height: f64,
    n_people: usize,
}

impl Run {
    /// Follows one sum until it exceeds `cap` or `longest` people have passed.
    fn followed(mut stream: Stream, steps: &[OutcomeStep], cap: f64, longest: usize) -> Run {
        let mut records = Vec::new();
        let (mut sum, mut highest, mut n_people) = (0.0_f64, 0.0, 0);
        while highest <= cap && n_people < longest {
            let Some(step) = steps.get(stream.index(steps.len())) else {
                break;
            };
            let has_event = stream.uniform() < step.chance;
            sum = (sum
                + if has_event {
                    step.score_of_event
                } else {
                    step.score_of_none
                })
            .max(0.0);
            n_people += 1;
            if sum > highest {
                highest = sum;
                records.push(Record {
                    height: highest,
                    n_people,
                });
            }
        }
        Run { records }
    }

    /// People until the sum first exceeds `limit`, or `longest`.
    fn length(&self, limit: f64, longest: usize) -> f64 {
        let place = self
            .records
            .partition_point(|record| record.height <= limit);
        self.records
            .get(place)
            .map_or(longest, |record| record.n_people) as f64
    }
}

fn mean_length(runs: &[Run], limit: f64, longest: usize) -> f64 {
    runs.iter()
        .map(|run| run.length(limit, longest))
        .sum::<f64>()
        / runs.len() as f64
}

/// The mean length changes only at recorded heights, so the limit is 0 or one of them.
fn smallest_limit(runs: &[Run], wanted: f64, longest: usize) -> f64 {
    let mut heights: Vec<f64> = runs
        .iter()
        .flat_map(|run| run.records.iter().map(|record| record.height))
        .collect();
    heights.push(0.0);
    heights.sort_by(f64::total_cmp);
    let place = heights.partition_point(|height| mean_length(runs, *height, longest) < wanted);
    heights.get(place).copied().unwrap_or(f64::INFINITY)
}

fn summary(lengths: &[f64], longest: usize, seed: u64) -> RunLength {
    let n = lengths.len() as f64;
    let mean = lengths.iter().sum::<f64>() / n;
    let squares: f64 = lengths.iter().map(|length| (length - mean).powi(2)).sum();
    RunLength {
        mean,
        std_error: (squares / (n * (n - 1.0).max(1.0))).sqrt(),
        median: sample_quantile(lengths, 0.5).unwrap_or(mean),
        n_stopped: lengths
            .iter()
            .filter(|length| **length >= longest as f64)
            .count(),
        n_simulations: lengths.len(),
        seed,
    }
}
