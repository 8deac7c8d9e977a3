//! Limits of a quantile by drawing the rows again.

use crate::counts::{check_simulation, sample_quantile, too_few};
use crate::distribution::check_level;
use crate::influence::{numbered_clusters, rows_by_cluster, rows_by_content};
use crate::random::{Stream, available_threads, repeated};
use crate::risk_table::FixedWeights;
use crate::time_order::{TimeOrder, time_order};
use crate::weighting::BootstrapOptions;
use crate::{Sample, SurvivalError};
use serde::Serialize;

use super::quantile::TOLERANCE;

/// A quantile of the time to any event, with limits from drawn samples.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BootstrapQuantile {
    /// The share, between 0 and 1.
    pub probability: f64,
    /// The time by which that share has had the event, as [`crate::Curve::quantile`] gives it; `None` when not reached.
    pub estimate: Option<f64>,
    /// Standard deviation over the drawn samples; `None` when one of them did not reach the share.
    pub std_error: Option<f64>,
    /// Lower percentile limit (type 7); `None` when it lies among samples that did not reach the share.
    pub lower: Option<f64>,
    /// Upper percentile limit.
    pub upper: Option<f64>,
    /// Samples drawn.
    pub n_repetitions: usize,
    /// Drawn samples that did not reach the share; they count as larger than any time.
    pub n_not_reached: usize,
    /// Seed.
    pub seed: u64,
}

/// Bootstrap of a quantile of the Kaplan-Meier curve: clusters, or rows where none are given, are drawn with replacement.
///
/// Weights are read as [`crate::kaplan_meier`] reads them and go with their rows; delayed entry is honoured. Each repetition
/// has its own random stream and clusters are taken in the order of their numbers, rows in the order of what they hold, so
/// neither the order of the rows nor the number of threads changes a digit.
///
/// # Errors
/// A probability or level outside (0, 1), no repetition or more than 10 million, fewer than two clusters; otherwise as
/// [`crate::kaplan_meier`].
///
/// Source: Efron, JASA 1981;76:312, section 3 (rows drawn with their censoring); percentiles: Davison and Hinkley, Bootstrap
/// Methods and their Application, 1997, section 5.3.1 (both from memory).
pub fn bootstrap_quantile(
    sample: &Sample,
    probability: f64,
    options: &BootstrapOptions,
) -> Result<BootstrapQuantile, SurvivalError> {
    check_level(options.level)?;
    if !(probability > 0.0 && probability < 1.0) {
        return Err(SurvivalError::SettingOutOfRange {
            setting: "probability",
            rule: "must lie between 0 and 1",
        });
    }
    check_simulation("number of repetitions", options.n_repetitions)?;
    let rows = Rows::new(sample)?;
    if rows.n_clusters() < 2 {
        return Err(too_few(rows.n_clusters(), 2));
    }
    let estimate = rows.quantile(probability, 0..rows.n_clusters());
    let n_threads = options.n_threads.unwrap_or_else(available_threads);
    let drawn = repeated(options.n_repetitions, n_threads, |repetition| {
        let mut stream = Stream::new(options.seed, repetition);
        let clusters = (0..rows.n_clusters()).map(|_| stream.index(rows.n_clusters()));
        rows.quantile(probability, clusters)
    });
    let values: Vec<f64> = drawn
        .iter()
        .map(|value| value.unwrap_or(f64::INFINITY))
        .collect();
    let n_not_reached = drawn.iter().filter(|value| value.is_none()).count();
    let tail = (1.0 - options.level) / 2.0;
    let limit = |share: f64| sample_quantile(&values, share).filter(|limit| limit.is_finite());
    let n = values.len() as f64;
    let mean = values.iter().map(|value| value / n).sum::<f64>();
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let has_error = n_not_reached == 0 && values.len() > 1;
    Ok(BootstrapQuantile {
        probability,
        estimate,
        std_error: has_error.then(|| (squares / (n - 1.0)).sqrt()),
        lower: limit(tail),
        upper: limit(1.0 - tail),
        n_repetitions: options.n_repetitions,
        n_not_reached,
        seed: options.seed,
    })
}

/// What is drawn from.
enum Rows {
    /// Rows that weigh one each, are at risk from the origin and belong to no cluster, in the order of their exits: how often
    /// each was drawn is all that need be counted, which keeps within a cache what is touched at random.
    Plain {
        n_rows: usize,
        times: Vec<TimeOfRows>,
    },
    Any(AnyRows),
}

/// The rows that leave at one time: those censored stand before those with the event.
struct TimeOfRows {
    time: f64,
    first_event: usize,
    end: usize,
}

/// Rows in the order in which they are drawn, told by where they enter and leave.
struct AnyRows {
    times: Vec<f64>,
    rows: Vec<DrawnRow>,
    /// Where each cluster ends among the rows; empty where each row is its own.
    ends: Vec<usize>,
}

#[derive(Debug, Clone, Copy)]
struct DrawnRow {
    entry: u32,
    exit: u32,
    has_event: bool,
    is_at_risk: bool,
    units: i128,
}

/// Sums of units at one time.
#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    gained: i128,
    lost: i128,
    events: i128,
}

impl Rows {
    fn new(sample: &Sample) -> Result<Self, SurvivalError> {
        let order = time_order(sample)?;
        let is_plain =
            sample.weight().is_none() && sample.entry().is_none() && sample.cluster().is_none();
        if is_plain {
            return Ok(Self::plain(sample, &order));
        }
        let fixed = FixedWeights::new(sample);
        let mut ends = Vec::new();
        let sorted: Vec<u32> = if sample.cluster().is_some() {
            let (cluster, n_clusters) = numbered_clusters(sample.cluster(), sample.len());
            let rows = rows_by_cluster(&cluster, n_clusters);
            for cluster in rows.chunk_by(|left, right| left.0 == right.0) {
                ends.push(ends.last().copied().unwrap_or(0) + cluster.len());
            }
            rows.into_iter().map(|(_, row)| row).collect()
        } else {
            rows_by_content(sample, &order)
        };
        let rows = sorted
            .into_iter()
            .map(|row| drawn_row(sample, &order, &fixed, row as usize))
            .collect();
        Ok(Self::Any(AnyRows {
            times: order.times,
            rows,
            ends,
        }))
    }

    fn plain(sample: &Sample, order: &TimeOrder) -> Self {
        let mut times: Vec<TimeOfRows> = order
            .times
            .iter()
            .map(|&time| TimeOfRows {
                time,
                first_event: 0,
                end: 0,
            })
            .collect();
        for (&exit, &cause) in order.exit.iter().zip(sample.cause()) {
            if let Some(of_time) = times.get_mut(exit as usize) {
                of_time.end += 1;
                of_time.first_event += usize::from(cause == 0);
            }
        }
        let mut begin = 0;
        for of_time in &mut times {
            of_time.first_event += begin;
            of_time.end += begin;
            begin = of_time.end;
        }
        Self::Plain {
            n_rows: sample.len(),
            times,
        }
    }

    fn n_clusters(&self) -> usize {
        match self {
            Self::Plain { n_rows, .. } => *n_rows,
            Self::Any(rows) => rows.n_clusters(),
        }
    }

    /// The time by which the share has had the event in a sample of these clusters.
    fn quantile(&self, probability: f64, clusters: impl Iterator<Item = usize>) -> Option<f64> {
        let (n_rows, times) = match self {
            Self::Any(rows) => return rows.quantile(probability, clusters),
            Self::Plain { n_rows, times } => (*n_rows, times),
        };
        let mut drawn = vec![0_u32; n_rows];
        let mut n_drawn = 0;
        for row in clusters {
            if let Some(drawn) = drawn.get_mut(row) {
                *drawn += 1;
                n_drawn += 1;
            }
        }
        let sum = |rows: std::ops::Range<usize>| -> i128 {
            let drawn = drawn.get(rows).unwrap_or_default();
            i128::from(drawn.iter().map(|&drawn| u64::from(drawn)).sum::<u64>())
        };
        let mut begin = 0;
        let counts = times.iter().map(|of_time| {
            let events = sum(of_time.first_event..of_time.end);
            let counts = Counts {
                gained: if begin == 0 { n_drawn } else { 0 },
                lost: sum(begin..of_time.first_event) + events,
                events,
            };
            begin = of_time.end;
            (of_time.time, counts)
        });
        quantile_of_counts(probability, counts)
    }
}

impl AnyRows {
    fn n_clusters(&self) -> usize {
        if self.ends.is_empty() {
            self.rows.len()
        } else {
            self.ends.len()
        }
    }

    fn of_cluster(&self, number: usize) -> &[DrawnRow] {
        let rows = if self.ends.is_empty() {
            self.rows.get(number..=number)
        } else {
            let start = number
                .checked_sub(1)
                .and_then(|before| self.ends.get(before).copied());
            let end = self.ends.get(number).copied().unwrap_or(0);
            self.rows.get(start.unwrap_or(0)..end)
        };
        rows.unwrap_or_default()
    }

    /// The time by which the share has had the event in a sample of these clusters.
    fn quantile(&self, probability: f64, clusters: impl Iterator<Item = usize>) -> Option<f64> {
        let mut counts = vec![Counts::default(); self.times.len()];
        for row in clusters.flat_map(|cluster| self.of_cluster(cluster)) {
            if row.is_at_risk {
                if let Some(counts) = counts.get_mut(row.entry as usize) {
                    counts.gained += row.units;
                }
                if let Some(counts) = counts.get_mut(row.exit as usize) {
                    counts.lost += row.units;
                }
            }
            if row.has_event
                && let Some(counts) = counts.get_mut(row.exit as usize)
            {
                counts.events += row.units;
            }
        }
        quantile_of_counts(probability, self.times.iter().copied().zip(counts))
    }
}

/// The time by which the share has had the event, given what happens at each time in increasing order.
fn quantile_of_counts(
    probability: f64,
    counts: impl Iterator<Item = (f64, Counts)>,
) -> Option<f64> {
    let (mut at_risk, mut event_free) = (0_i128, 1.0);
    let (mut met, mut last) = (None, None);
    for (time, counts) in counts {
        at_risk += counts.gained;
        if counts.events > 0 && at_risk > 0 {
            event_free *= (at_risk - counts.events) as f64 / at_risk as f64;
        }
        if counts.lost > 0 || counts.events > 0 {
            last = Some(time);
        }
        at_risk -= counts.lost;
        let share = 1.0 - event_free;
        if met.is_none() && share >= probability - TOLERANCE {
            met = Some(time);
        }
        if share >= probability + TOLERANCE {
            return met.map(|met| met + (time - met) / 2.0);
        }
    }
    // met exactly and never passed: to the last observation
    met.zip(last).map(|(met, last)| met + (last - met) / 2.0)
}

fn drawn_row(sample: &Sample, order: &TimeOrder, fixed: &FixedWeights<'_>, row: usize) -> DrawnRow {
    let gives_a_time = order.gives_a_time(row);
    DrawnRow {
        entry: order.entry_of(row),
        exit: order.exit.get(row).copied().unwrap_or(0),
        has_event: gives_a_time && sample.cause().get(row).is_some_and(|&cause| cause > 0),
        is_at_risk: gives_a_time && order.is_ever_at_risk(row),
        units: fixed.units(row),
    }
}
