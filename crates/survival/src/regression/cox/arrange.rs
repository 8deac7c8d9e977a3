//! The rows of a proportional hazards model in the order the passes read them: by stratum, then by time.

use std::ops::Range;

use crate::content::ContentKeys;
use crate::halves::{fill_in_halves, fill_in_two_parts, in_halves, in_two_parts};
use crate::regression::cox::slots::Slots;
use crate::regression::{ClusterIndex, Covariates, Standardised};
use crate::sample::check_length;
use crate::time_order::time_order;
use crate::{Sample, SurvivalError};

/// Rows sorted by stratum, exit, events first, and, so that no sum follows the order of the input, contents.
///
/// A *position* is a place in this order, a *step* a place among the distinct exit times of all rows; a row is at risk at the steps
/// from its entry step to its exit step, both included.
#[derive(Debug, Clone)]
pub(crate) struct Arranged {
    /// Input row of each position.
    pub(crate) order: Vec<u32>,
    /// First position of each stratum, and the number of rows at the end.
    bounds: Vec<usize>,
    /// Label of each stratum.
    pub(crate) labels: Vec<u32>,
    /// Distinct exit times.
    times: Vec<f64>,
    exit_step: Vec<u32>,
    /// Absent where every row is at risk from the origin.
    entry_step: Option<Vec<u32>>,
    /// Within each stratum, positions by descending entry step; rows at risk from the first step on are not listed.
    late_entries: Vec<Vec<u32>>,
    pub(crate) is_event: Vec<bool>,
    pub(crate) slots: Slots,
    weight: Option<Vec<f64>>,
    pub(crate) covariates: Standardised,
    /// Sum over events of weight times covariates.
    pub(crate) event_sums: Vec<f64>,
    /// The positions in two parts that passes may take side by side; the second is empty where rows are few.
    parts: [Part; 2],
    pub(crate) clusters: ClusterIndex,
    /// Rows given, those never at risk included.
    pub(crate) n_rows: usize,
    /// Rows at risk at no time, or of no weight.
    pub(crate) n_never_at_risk: usize,
}

/// Positions that one pass takes, whole exit times, and the slots of their event times.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Part {
    pub(crate) positions: Range<usize>,
    pub(crate) slots: Range<usize>,
}

/// Rows from which passes are cut in two. The sums of both parts are those of two parts on one core too.
const MANY_ROWS: usize = 1 << 14;

impl Arranged {
    pub(crate) fn of(
        sample: &Sample,
        covariates: &Covariates,
        stratum: Option<&[u32]>,
        cause: Option<u32>,
    ) -> Result<Arranged, SurvivalError> {
        Self::with_contents(sample, covariates, None, stratum, cause)
    }

    /// Rows without covariates, of which a score is known too.
    pub(crate) fn of_scores(
        sample: &Sample,
        score: &[f64],
        stratum: Option<&[u32]>,
    ) -> Result<Arranged, SurvivalError> {
        let none = Covariates::new(sample.len(), Vec::new())?;
        Self::with_contents(sample, &none, Some(score), stratum, None)
    }

    fn with_contents(
        sample: &Sample,
        covariates: &Covariates,
        score: Option<&[f64]>,
        stratum: Option<&[u32]>,
        cause: Option<u32>,
    ) -> Result<Arranged, SurvivalError> {
        let n_rows = sample.len();
        check_length("covariates", covariates.n_rows(), n_rows)?;
        if let Some(stratum) = stratum {
            check_length("stratum", stratum.len(), n_rows)?;
        }
        let steps = time_order(sample)?;
        let exit_of = |row: u32| steps.exit[row as usize];
        let by_time = counted_into_place(
            (0..n_rows as u32).filter(|&row| steps.is_ever_at_risk(row as usize)),
            steps.times.len(),
            exit_of,
        );
        let strata = Strata::of(stratum, &by_time);
        let mut order = if strata.labels.len() > 1 {
            let n_strata = strata.labels.len();
            counted_into_place(by_time.iter().copied(), n_strata, |row| strata.of_row(row))
        } else {
            by_time
        };
        let bounds = strata.bounds(&order);
        let is_tied =
            |a: &u32, b: &u32| exit_of(*a) == exit_of(*b) && strata.of_row(*a) == strata.of_row(*b);
        let is_event = |row: &u32| {
            let found = sample.cause()[*row as usize];
            found > 0 && cause.is_none_or(|cause| cause == found)
        };
        if order.windows(2).any(|pair| is_tied(&pair[0], &pair[1])) {
            let mut keys = ContentKeys::of(sample).with_covariates(covariates.columns());
            if let Some(score) = score {
                keys = keys.with_numbers(score);
            }
            settle_ties(&mut order, is_tied, is_event, &keys);
        }

        let is_event: Vec<bool> = order.iter().map(is_event).collect();
        if !is_event.contains(&true) {
            return Err(SurvivalError::NoEvents);
        }
        let has_late_entry = order.iter().any(|&row| steps.entry_of(row as usize) > 0);
        let entry_step: Option<Vec<u32>> = has_late_entry.then(|| {
            order
                .iter()
                .map(|&row| steps.entry_of(row as usize))
                .collect()
        });
        let late_entries = entry_step
            .as_deref()
            .map_or_else(Vec::new, |entry| late_entries(entry, &bounds));
        let exit_step: Vec<u32> = order.iter().map(|&row| exit_of(row)).collect();
        let slots = Slots::of(&bounds, &exit_step, entry_step.as_deref(), &is_event);
        let parts = two_parts(&order, &slots, is_tied);
        let covariate_rows = Standardised::of(covariates, &order, sample.weight());
        let weight: Option<Vec<f64>> = sample
            .weight()
            .map(|weight| order.iter().map(|&row| weight[row as usize]).collect());
        Ok(Arranged {
            parts,
            event_sums: event_sums(&covariate_rows, weight.as_deref(), &is_event),
            slots,
            exit_step,
            entry_step,
            late_entries,
            is_event,
            weight,
            covariates: covariate_rows,
            clusters: ClusterIndex::of(sample.cluster(), n_rows, &order),
            order,
            bounds,
            labels: strata.labels,
            n_rows,
            n_never_at_risk: steps.n_never_at_risk,
            times: steps.times,
        })
    }

    pub(crate) fn n_terms(&self) -> usize {
        self.covariates.n_terms
    }

    pub(crate) fn len(&self) -> usize {
        self.order.len()
    }

    pub(crate) fn n_strata(&self) -> usize {
        self.labels.len()
    }

    /// Positions of one stratum.
    pub(crate) fn stratum(&self, stratum: usize) -> Range<usize> {
        self.bounds[stratum]..self.bounds[stratum + 1]
    }

    /// The stratum a position belongs to.
    pub(crate) fn stratum_at(&self, position: usize) -> usize {
        self.bounds.partition_point(|&bound| bound <= position) - 1
    }

    /// Label of the stratum a position belongs to.
    pub(crate) fn label_at(&self, position: usize) -> u32 {
        self.labels[self.stratum_at(position)]
    }

    /// Positions of the rows of one stratum that enter late, latest first.
    pub(crate) fn late_entries(&self, stratum: usize) -> &[u32] {
        self.late_entries.get(stratum).map_or(&[], Vec::as_slice)
    }

    pub(crate) fn has_late_entry(&self) -> bool {
        self.entry_step.is_some()
    }

    pub(crate) fn weight_at(&self, position: usize) -> f64 {
        self.weight.as_ref().map_or(1.0, |weight| weight[position])
    }

    pub(crate) fn exit_step(&self, position: usize) -> u32 {
        self.exit_step[position]
    }

    pub(crate) fn entry_step(&self, position: usize) -> u32 {
        self.entry_step.as_ref().map_or(0, |entry| entry[position])
    }

    pub(crate) fn time_of(&self, step: u32) -> f64 {
        self.times[step as usize]
    }

    pub(crate) fn exit_time(&self, position: usize) -> f64 {
        self.time_of(self.exit_step[position])
    }

    /// First position, not before `start`, that leaves at the step of `position`.
    pub(crate) fn first_with_same_exit(&self, position: usize, start: usize) -> usize {
        let step = self.exit_step[position];
        let n_same = self.exit_step[start..position]
            .iter()
            .rev()
            .take_while(|&&other| other == step)
            .count();
        position - n_same
    }

    /// Ranges of `positions` that leave at one step, ascending.
    pub(crate) fn leaving_together(&self, positions: Range<usize>) -> Vec<Range<usize>> {
        let mut start = positions.start;
        self.exit_step[positions]
            .chunk_by(|a, b| a == b)
            .map(|steps| {
                let leaving = start..start + steps.len();
                start = leaving.end;
                leaving
            })
            .collect()
    }

    /// Linear predictors of all positions for standardised coefficients.
    pub(crate) fn linear_predictors(&self, coefficients: &[f64]) -> Vec<f64> {
        let n_terms = self.n_terms();
        let mut predictors = vec![0.0; self.len()];
        if n_terms > 0 {
            fill_in_halves(&mut predictors, 1, |first, part| {
                let rows = self.covariates.rows(first..first + part.len());
                for (predictor, row) in part.iter_mut().zip(rows.chunks_exact(n_terms)) {
                    let products = row.iter().zip(coefficients);
                    *predictor = products.map(|(value, slope)| value * slope).sum();
                }
            });
        }
        predictors
    }

    /// What `work` makes of the first and of the second part of the positions.
    pub(crate) fn in_parts<T: Send>(&self, work: impl Fn(&Part) -> T + Sync) -> [T; 2] {
        let [first, second] = &self.parts;
        in_two_parts(self.len(), 0..1, 1..2, |part| {
            work(if part.start == 0 { first } else { second })
        })
    }

    /// Weight times exp(linear predictor) of every position for standardised coefficients.
    pub(crate) fn risks_at(&self, coefficients: &[f64]) -> Vec<f64> {
        let n_terms = self.n_terms();
        let mut risks = vec![0.0; self.len()];
        fill_in_halves(&mut risks, 1, |first, part| {
            let rows = self.covariates.rows(first..first + part.len());
            for (place, risk) in part.iter_mut().enumerate() {
                let row = &rows[place * n_terms..(place + 1) * n_terms];
                let products = row.iter().zip(coefficients);
                let predictor: f64 = products.map(|(value, slope)| value * slope).sum();
                *risk = self.weight_at(first + place) * predictor.exp();
            }
        });
        risks
    }

    /// Weight times exp(linear predictor) of every position.
    pub(crate) fn risks(&self, linear_predictors: &[f64]) -> Vec<f64> {
        let mut risks = linear_predictors.to_vec();
        fill_in_halves(&mut risks, 1, |first, part| {
            for (place, risk) in part.iter_mut().enumerate() {
                *risk = self.weight_at(first + place) * risk.exp();
            }
        });
        risks
    }
}

/// The strata of the rows, numbered from 0 in the order of their labels; one stratum 0 where none are given.
struct Strata<'s> {
    of_rows: Option<&'s [u32]>,
    labels: Vec<u32>,
}

impl<'s> Strata<'s> {
    /// The strata that these rows are in.
    fn of(of_rows: Option<&'s [u32]>, rows: &[u32]) -> Self {
        let mut labels: Vec<u32> = of_rows.map_or_else(
            || vec![0],
            |of_rows| rows.iter().map(|&row| of_rows[row as usize]).collect(),
        );
        labels.sort_unstable();
        labels.dedup();
        Self { of_rows, labels }
    }

    /// Number of the stratum of a row.
    fn of_row(&self, row: u32) -> u32 {
        self.of_rows.map_or(0, |of_rows| {
            self.labels
                .binary_search(&of_rows[row as usize])
                .unwrap_or(0) as u32
        })
    }

    /// First place of each stratum among rows in the order of their strata, and their number at the end.
    fn bounds(&self, order: &[u32]) -> Vec<usize> {
        let later = (1..self.labels.len() as u32)
            .map(|stratum| order.partition_point(|&row| self.of_row(row) < stratum));
        std::iter::once(0)
            .chain(later)
            .chain([order.len()])
            .collect()
    }
}

/// Puts the rows of each tie in order: events first, and each kind by what its rows hold.
fn settle_ties(
    order: &mut [u32],
    is_tied: impl Fn(&u32, &u32) -> bool + Copy + Sync,
    is_event: impl Fn(&u32) -> bool + Sync,
    keys: &ContentKeys,
) {
    let middle = beginning_of_tie(order, order.len() / 2, is_tied);
    fill_in_two_parts(order, 1, middle, |_, part| {
        let mut scratch = Vec::new();
        for tied in part.chunk_by_mut(is_tied).filter(|tied| tied.len() > 1) {
            let mut n_events = 0;
            for place in 0..tied.len() {
                if is_event(&tied[place]) {
                    tied.swap(place, n_events);
                    n_events += 1;
                }
            }
            let (events, others) = tied.split_at_mut(n_events);
            keys.sort(events, &mut scratch);
            keys.sort(others, &mut scratch);
        }
    });
}

/// The two parts of the positions, cut between two ties.
fn two_parts(order: &[u32], slots: &Slots, is_tied: impl Fn(&u32, &u32) -> bool) -> [Part; 2] {
    let n_rows = order.len();
    let middle = if n_rows < MANY_ROWS {
        n_rows
    } else {
        beginning_of_tie(order, n_rows / 2, is_tied)
    };
    let middle_slot = match middle.checked_sub(1) {
        Some(last) if middle < n_rows => slots.exit[last] as usize + 1,
        _ => slots.len(),
    };
    [
        Part {
            positions: 0..middle,
            slots: 0..middle_slot,
        },
        Part {
            positions: middle..n_rows,
            slots: middle_slot..slots.len(),
        },
    ]
}

/// First place from `near` on that begins a tie; the end where there is none.
fn beginning_of_tie(order: &[u32], near: usize, is_tied: impl Fn(&u32, &u32) -> bool) -> usize {
    let Some(before) = near.checked_sub(1) else {
        return order.len();
    };
    order[before..]
        .windows(2)
        .position(|pair| !is_tied(&pair[0], &pair[1]))
        .map_or(order.len(), |place| before + place + 1)
}

/// Sum over events of weight times covariates, in two halves.
fn event_sums(covariates: &Standardised, weight: Option<&[f64]>, is_event: &[bool]) -> Vec<f64> {
    let [mut sums, others] = in_halves(is_event.len(), |positions| {
        let mut sums = vec![0.0; covariates.n_terms];
        for position in positions.filter(|&position| is_event[position]) {
            let weight = weight.map_or(1.0, |weight| weight[position]);
            for (sum, value) in sums.iter_mut().zip(covariates.row(position)) {
                *sum += weight * value;
            }
        }
        sums
    });
    for (sum, other) in sums.iter_mut().zip(others) {
        *sum += other;
    }
    sums
}

/// Rows by a small whole number, in the order given within each.
fn counted_into_place(
    rows: impl Iterator<Item = u32> + Clone,
    n_places: usize,
    place_of: impl Fn(u32) -> u32,
) -> Vec<u32> {
    let mut next = vec![0_usize; n_places + 1];
    for row in rows.clone() {
        next[place_of(row) as usize + 1] += 1;
    }
    for place in 1..next.len() {
        next[place] += next[place - 1];
    }
    let mut order = vec![0; next[n_places]];
    for row in rows {
        let place = &mut next[place_of(row) as usize];
        order[*place] = row;
        *place += 1;
    }
    order
}

/// Positions of each stratum that enter late, latest first.
fn late_entries(entry_step: &[u32], bounds: &[usize]) -> Vec<Vec<u32>> {
    bounds
        .windows(2)
        .map(|pair| {
            let mut late: Vec<u32> = (pair[0] as u32..pair[1] as u32)
                .filter(|&position| entry_step[position as usize] > 0)
                .collect();
            late.sort_by_key(|&position| std::cmp::Reverse(entry_step[position as usize]));
            late
        })
        .collect()
}
