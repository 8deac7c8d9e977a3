//! The counts at each distinct time: at risk, events by cause, censored.

use crate::day_counts::DayCounts;
use crate::time_order::{TimeOrder, time_order};
use crate::{Sample, SurvivalError};

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

/// A sample counted at its distinct times.
pub(crate) struct Counted {
    /// The causes that occur or were declared, in increasing order.
    pub(crate) causes: Vec<u32>,
    pub(crate) table: RiskTable,
    /// Without its rows where `days` has counted them.
    pub(crate) order: TimeOrder,
    pub(crate) days: Option<DayCounts>,
}

/// Counts a sample: in one pass by day where that is possible.
pub(crate) fn counted_sample(sample: &Sample) -> Result<Counted, SurvivalError> {
    if let Some(days) = DayCounts::new(sample) {
        let causes = sample.with_declared(days.causes());
        return Ok(Counted {
            table: days.risk_table(&causes),
            order: TimeOrder::without_rows(days.times().map(|(time, _)| time).collect()),
            causes,
            days: Some(days),
        });
    }
    let order = time_order(sample)?;
    let causes = sample.causes();
    Ok(Counted {
        table: risk_table(sample, &order, &causes, |_| true),
        causes,
        order,
        days: None,
    })
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
            (90.0 - largest.log2().ceil()).min(1000.0).exp2()
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
    if sample.weight().is_none() && order.entry.is_empty() {
        return counted(sample, order, causes, is_member);
    }
    let n_times = order.times.len();
    let fixed = FixedWeights::new(sample);
    let mut censored = vec![0_i128; n_times];
    let mut events = vec![vec![0_i128; n_times]; causes.len()];
    // what the risk set gains before a time, and loses after it
    let mut gained = vec![0_i128; n_times];
    let mut lost = vec![0_i128; n_times];
    let add = |column: Option<&mut Vec<i128>>, position: u32, units: i128| {
        if let Some(sum) = column.and_then(|column| column.get_mut(position as usize)) {
            *sum += units;
        }
    };
    for (index, (&exit, &cause)) in order.exit.iter().zip(sample.cause()).enumerate() {
        if !is_member(index) || !order.gives_a_time(index) {
            continue;
        }
        let units = fixed.units(index);
        if cause == 0 {
            add(Some(&mut censored), exit, units);
        } else if let Ok(place) = causes.binary_search(&cause) {
            add(events.get_mut(place), exit, units);
        }
        let entry = order.entry_of(index);
        if entry <= exit {
            add(Some(&mut gained), entry, units);
            add(Some(&mut lost), exit, units);
        }
    }

    let mut under_observation = 0_i128;
    let n_at_risk = gained
        .iter()
        .zip(&lost)
        .map(|(gained, lost)| {
            under_observation += gained;
            let n_at_risk = fixed.weight_of(under_observation);
            under_observation -= lost;
            n_at_risk
        })
        .collect();
    let in_weights =
        |column: Vec<i128>| column.iter().map(|&units| fixed.weight_of(units)).collect();
    let mut of_any = vec![0_i128; n_times];
    for column in &events {
        for (sum, units) in of_any.iter_mut().zip(column) {
            *sum += units;
        }
    }
    RiskTable {
        n_at_risk,
        n_events_of_any: in_weights(of_any),
        n_events: events.into_iter().map(in_weights).collect(),
        n_censored: in_weights(censored),
    }
}

/// The same for rows that weigh one each and are all at risk from the origin: plain counts by time and cause.
fn counted(
    sample: &Sample,
    order: &TimeOrder,
    causes: &[u32],
    is_member: impl Fn(usize) -> bool,
) -> RiskTable {
    let n_times = order.times.len();
    // a column for censorings, one for each cause, and one for rows that count as leaving only
    let n_columns = causes.len() + 2;
    let column_of = |cause: u32| match cause {
        0 => 0,
        _ => causes
            .binary_search(&cause)
            .map_or(n_columns - 1, |place| place + 1),
    };
    // causes are few and small as a rule: looked up instead of searched
    let known: Vec<u32> = (0..256).map(|cause| column_of(cause) as u32).collect();
    let mut counts = vec![0_u32; n_times * n_columns];
    for (index, (&exit, &cause)) in order.exit.iter().zip(sample.cause()).enumerate() {
        if !is_member(index) {
            continue;
        }
        let column = known
            .get(cause as usize)
            .map_or_else(|| column_of(cause), |&column| column as usize);
        if let Some(count) = counts.get_mut(exit as usize * n_columns + column) {
            *count += 1;
        }
    }
    let mut left: u64 = counts.iter().map(|&count| u64::from(count)).sum();
    let mut table = RiskTable {
        n_at_risk: Vec::with_capacity(n_times),
        n_events: vec![Vec::with_capacity(n_times); causes.len()],
        n_events_of_any: Vec::with_capacity(n_times),
        n_censored: Vec::with_capacity(n_times),
    };
    for of_time in counts.chunks(n_columns) {
        let [censored, events @ .., others] = of_time else {
            continue;
        };
        table.n_at_risk.push(left as f64);
        table.n_censored.push(f64::from(*censored));
        let mut of_any = 0_u64;
        for (column, &count) in table.n_events.iter_mut().zip(events) {
            column.push(f64::from(count));
            of_any += u64::from(count);
        }
        table.n_events_of_any.push(of_any as f64);
        left -= u64::from(*censored) + of_any + u64::from(*others);
    }
    table
}
