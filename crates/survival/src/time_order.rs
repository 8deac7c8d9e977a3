//! Where each row enters and leaves among the distinct times: the one sort every estimator shares.

use crate::{Sample, SurvivalError};

/// Times closer than this share of the mean time are one time: decimal years computed in two ways differ in the last
/// digits, and would otherwise break a tie. Whole numbers are never merged.
const TIE_TOLERANCE: f64 = 1.5e-8;

/// The distinct exit times and each row's place among them.
#[derive(Debug, Clone)]
pub(crate) struct TimeOrder {
    /// Distinct exit times, increasing. Rows never at risk give no time.
    pub(crate) times: Vec<f64>,
    /// For each row the position of its exit in `times`; unused for rows never at risk. Empty where the rows were counted by day.
    pub(crate) exit: Vec<u32>,
    /// For each row the first position at which it is at risk; beyond `exit` when it never is. Empty when all
    /// rows are at risk from the origin.
    pub(crate) entry: Vec<u32>,
    /// Rows that give no time: an empty follow-up without an event, or no weight.
    pub(crate) n_never_at_risk: usize,
    /// The largest time, when all times are whole and it is modest enough to count by.
    pub(crate) largest_whole: Option<u64>,
}

impl TimeOrder {
    /// The distinct times of rows that are all at risk from the origin and that were counted already.
    pub(crate) fn without_rows(times: Vec<f64>) -> Self {
        Self {
            times,
            exit: Vec::new(),
            entry: Vec::new(),
            n_never_at_risk: 0,
            largest_whole: None,
        }
    }

    /// First position at which row `index` is at risk.
    pub(crate) fn entry_of(&self, index: usize) -> u32 {
        self.entry.get(index).copied().unwrap_or(0)
    }

    /// Whether row `index` gives a time: it has a follow-up or an event, and weighs something.
    pub(crate) fn gives_a_time(&self, index: usize) -> bool {
        self.entry_of(index) < u32::MAX
    }

    /// Whether row `index` is ever at risk.
    pub(crate) fn is_ever_at_risk(&self, index: usize) -> bool {
        self.entry_of(index) <= self.exit.get(index).copied().unwrap_or(0)
    }
}

/// Sorts the exit times of a sample into distinct positions.
///
/// Whole, modest times are counted into place; all others are sorted once.
pub(crate) fn time_order(sample: &Sample) -> Result<TimeOrder, SurvivalError> {
    let exits = sample.exit();
    let entries = sample.entry();
    // the rows that give a time; all of them when nothing could keep one out
    let counted: Option<Vec<bool>> = (sample.weight().is_some() || entries.is_some()).then(|| {
        exits
            .iter()
            .zip(sample.cause())
            .enumerate()
            .map(|(index, (&exit, &cause))| {
                let entry = entries.map_or(0.0, |entry| entry.get(index).copied().unwrap_or(0.0));
                let has_span = entry < exit || entry == 0.0;
                sample.weight_of(index) > 0.0 && (has_span || cause > 0)
            })
            .collect()
    });
    let is_in = |index: usize| {
        counted
            .as_ref()
            .is_none_or(|counted| counted.get(index).copied().unwrap_or(false))
    };
    let n_never_at_risk = counted
        .as_ref()
        .map_or(0, |counted| counted.iter().filter(|&&is_in| !is_in).count());

    let whole = largest_whole(sample).filter(|&largest| largest <= 4 * exits.len() as u64 + 65_536);
    let (times, exit, ticks) = match whole {
        Some(largest) => by_counting(exits, largest, is_in),
        None => by_sorting(exits, is_in),
    };

    let mut entry = Vec::new();
    if let Some(entries) = entries {
        let tolerance = tie_tolerance(&times);
        entry = entries
            .iter()
            .enumerate()
            .map(|(index, &time)| {
                if !is_in(index) {
                    u32::MAX
                } else if time == 0.0 {
                    0
                } else if let Some(ticks) = &ticks {
                    ticks.get(time as usize).copied().unwrap_or(u32::MAX - 1)
                } else {
                    times.partition_point(|&known| known <= time + tolerance) as u32
                }
            })
            .collect();
        for (index, ((&first, &last), &cause)) in
            entry.iter().zip(&exit).zip(sample.cause()).enumerate()
        {
            // only a span shorter than the tie tolerance comes here
            if is_in(index) && first > last && cause > 0 && !sample.is_history() {
                return Err(SurvivalError::EventAtEntry { row: index + 1 });
            }
        }
    } else if counted.is_some() {
        entry = (0..exits.len())
            .map(|index| if is_in(index) { 0 } else { u32::MAX })
            .collect();
    }
    Ok(TimeOrder {
        times,
        exit,
        entry,
        n_never_at_risk,
        largest_whole: whole,
    })
}

/// The largest exit when all exits and entries are whole numbers.
fn largest_whole(sample: &Sample) -> Option<u64> {
    let largest = sample.largest_whole_exit()?;
    let mut entries = sample.entry().unwrap_or_default().chunks(BLOCK);
    entries.all(are_whole).then_some(u64::from(largest))
}

/// Times looked at before deciding whether to look on.
const BLOCK: usize = 4096;

/// Whether all times are whole numbers that 32 bits can hold; larger ones are sorted, not counted.
fn are_whole(times: &[f64]) -> bool {
    let whole = times.iter().map(|&time| f64::from(time as u32) == time);
    whole.fold(true, |all, is_whole| all & is_whole)
}

/// Distinct times, each row's position, and for each whole time the number of distinct times up to it.
fn by_counting(
    exits: &[f64],
    largest: u64,
    is_in: impl Fn(usize) -> bool,
) -> (Vec<f64>, Vec<u32>, Option<Vec<u32>>) {
    let mut ticks = vec![0_u32; largest as usize + 1];
    for (index, &exit) in exits.iter().enumerate() {
        if is_in(index)
            && let Some(tick) = ticks.get_mut(exit as u32 as usize)
        {
            *tick = 1;
        }
    }
    let mut times = Vec::new();
    for (time, tick) in ticks.iter_mut().enumerate() {
        if *tick > 0 {
            times.push(time as f64);
        }
        *tick = times.len() as u32;
    }
    let exit = exits
        .iter()
        .map(|&exit| {
            let up_to = ticks.get(exit as u32 as usize).copied().unwrap_or(0);
            up_to.saturating_sub(1)
        })
        .collect();
    (times, exit, Some(ticks))
}

/// Distinct times and each row's position, from one sort; neighbours within the tie tolerance become one time.
fn by_sorting(
    exits: &[f64],
    is_in: impl Fn(usize) -> bool,
) -> (Vec<f64>, Vec<u32>, Option<Vec<u32>>) {
    // the bits of non-negative floats sort like the numbers
    let mut order: Vec<(u64, u32)> = exits
        .iter()
        .enumerate()
        .filter(|&(index, _)| is_in(index))
        .map(|(index, &exit)| (exit.to_bits(), index as u32))
        .collect();
    order.sort_unstable();
    let mut distinct: Vec<f64> = order
        .iter()
        .map(|&(bits, _)| f64::from_bits(bits))
        .collect();
    distinct.dedup();
    let tolerance = tie_tolerance(&distinct);

    let mut times: Vec<f64> = Vec::new();
    let mut exit = vec![0_u32; exits.len()];
    let mut previous = f64::NEG_INFINITY;
    for &(bits, index) in &order {
        let time = f64::from_bits(bits);
        if times.is_empty() || time - previous > tolerance {
            times.push(time);
        }
        previous = time;
        if let Some(place) = exit.get_mut(index as usize) {
            *place = times.len() as u32 - 1;
        }
    }
    (times, exit, None)
}

fn tie_tolerance(distinct: &[f64]) -> f64 {
    if distinct.is_empty() {
        return 0.0;
    }
    // each share apart, so that the sum of huge times stays in range
    let n_times = distinct.len() as f64;
    distinct
        .iter()
        .map(|time| time / n_times * TIE_TOLERANCE)
        .sum()
}
