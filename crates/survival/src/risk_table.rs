//! The counts at each distinct time: at risk, events by cause, censored.

use crate::Sample;
use crate::time_order::TimeOrder;

/// Counts (sums of weights) at the distinct times; every column is as long as `TimeOrder::times`.
///
/// Weights are added as fixed-point whole numbers, so that the sums do not depend on the order of the rows and a
/// risk set that empties is exactly 0.
#[derive(Debug, Clone)]
pub(crate) struct RiskTable {
    pub(crate) n_at_risk: Vec<f64>,
    /// One column for each cause, in the order they were asked for.
    pub(crate) n_events: Vec<Vec<f64>>,
    /// Events of all causes.
    pub(crate) n_events_of_any: Vec<f64>,
    pub(crate) n_censored: Vec<f64>,
}

/// Whole-number stand-ins for weights: weight = units / units_per_one.
pub(crate) struct FixedWeights<'sample> {
    weight: Option<&'sample [f64]>,
    units_per_one: f64,
}

impl<'sample> FixedWeights<'sample> {
    pub(crate) fn new(sample: &'sample Sample) -> Self {
        let weight = sample.weight();
        let units_per_one = weight.map_or(1.0, |weight| {
            // 2^90 units for the largest weight leave room for 2^36 rows
            let largest = weight.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
            (90.0 - largest.log2().ceil()).exp2()
        });
        Self {
            weight,
            units_per_one,
        }
    }

    pub(crate) fn units(&self, index: usize) -> i128 {
        self.weight.map_or(1, |weight| {
            (weight.get(index).copied().unwrap_or(0.0) * self.units_per_one) as i128
        })
    }

    pub(crate) fn weight_of(&self, units: i128) -> f64 {
        units as f64 / self.units_per_one
    }
}

/// Counts events, censorings and rows at risk at each distinct time, over the rows that `is_member` keeps.
pub(crate) fn risk_table(
    sample: &Sample,
    order: &TimeOrder,
    causes: &[u32],
    is_member: impl Fn(usize) -> bool,
) -> RiskTable {
    let n_times = order.times.len();
    let fixed = FixedWeights::new(sample);
    let has_entry = !order.entry.is_empty();
    // column 0 holds the censored
    let mut left = vec![vec![0_i128; n_times]; causes.len() + 1];
    let mut entered = vec![0_i128; if has_entry { n_times } else { 1 }];
    for (index, (&exit, &cause)) in order.exit.iter().zip(sample.cause()).enumerate() {
        if !is_member(index) || (has_entry && !order.is_ever_at_risk(index)) {
            continue;
        }
        let units = fixed.units(index);
        let column = if cause == 0 {
            Some(0)
        } else {
            causes.binary_search(&cause).ok().map(|place| place + 1)
        };
        if let Some(sum) = column
            .and_then(|column| left.get_mut(column))
            .and_then(|column| column.get_mut(exit as usize))
        {
            *sum += units;
        }
        let first = if has_entry { order.entry_of(index) } else { 0 };
        if let Some(sum) = entered.get_mut(first as usize) {
            *sum += units;
        }
    }

    let mut n_at_risk = Vec::with_capacity(n_times);
    let mut n_events_of_any = Vec::with_capacity(n_times);
    let mut under_observation = 0_i128;
    for position in 0..n_times {
        under_observation += entered.get(position).copied().unwrap_or(0);
        n_at_risk.push(fixed.weight_of(under_observation));
        let of = |column: &Vec<i128>| column.get(position).copied().unwrap_or(0);
        let events: i128 = left.iter().skip(1).map(of).sum();
        n_events_of_any.push(fixed.weight_of(events));
        under_observation -= events + left.first().map_or(0, of);
    }
    let mut columns = left.into_iter().map(|column| {
        column
            .into_iter()
            .map(|units| fixed.weight_of(units))
            .collect::<Vec<f64>>()
    });
    RiskTable {
        n_at_risk,
        n_censored: columns.next().unwrap_or_default(),
        n_events: columns.collect(),
        n_events_of_any,
    }
}
