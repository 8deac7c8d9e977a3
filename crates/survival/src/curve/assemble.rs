//! Puts the columns of an estimator together into a curve.

use super::limits::pointwise_limits;
use super::{Curve, CurveNote, CurveOptions, CurvePoint, Entered, Quantity, Start};
use crate::risk_table::{FixedWeights, RiskTable};
use crate::time_order::TimeOrder;
use crate::{Sample, SurvivalError};
use std::sync::Arc;

/// What an estimator computed at each distinct time.
pub(crate) struct Columns<'table> {
    pub(crate) quantity: Quantity,
    pub(crate) cause: Option<u32>,
    pub(crate) n_at_risk: &'table [f64],
    pub(crate) n_events: &'table [f64],
    pub(crate) n_censored: &'table [f64],
    pub(crate) estimate: Vec<f64>,
    /// `None` where not estimable.
    pub(crate) variance: Vec<Option<f64>>,
    pub(crate) start: Start,
}

/// The curve of these columns; `notes` and `entered` are shared between the curves of one sample.
pub(crate) fn assemble(
    times: &[f64],
    columns: Columns<'_>,
    options: &CurveOptions,
    context: &Context,
) -> Result<Curve, SurvivalError> {
    let multiplier = options.multiplier()?;
    let points = times
        .iter()
        .zip(columns.n_at_risk)
        .zip(columns.n_events)
        .zip(columns.n_censored)
        .zip(columns.estimate.iter().zip(&columns.variance))
        .map(
            |((((&time, &n_at_risk), &n_events), &n_censored), (&estimate, &variance))| {
                let std_error = variance.map(|variance| variance.max(0.0).sqrt());
                let limits = std_error.and_then(|std_error| {
                    pointwise_limits(
                        columns.quantity,
                        options.limits,
                        multiplier,
                        estimate,
                        std_error,
                    )
                });
                CurvePoint {
                    time,
                    n_at_risk,
                    n_events,
                    n_censored,
                    estimate,
                    std_error,
                    lower: limits.map(|limits| limits.lower),
                    upper: limits.map(|limits| limits.upper),
                }
            },
        )
        .collect();
    Ok(Curve {
        quantity: columns.quantity,
        cause: columns.cause,
        level: options.level,
        limits: options.limits,
        variance: options.variance,
        n: context.n,
        points,
        notes: context.notes.clone(),
        entered: context.entered.clone(),
        start: columns.start,
    })
}

/// What all curves of one sample share.
pub(crate) struct Context {
    pub(crate) n: usize,
    pub(crate) notes: Vec<CurveNote>,
    pub(crate) entered: Option<Arc<[Entered]>>,
}

impl Context {
    /// Reads the context off a sample and the counts of all its events.
    pub(crate) fn new(sample: &Sample, order: &TimeOrder, table: &RiskTable) -> Self {
        let entered = entered(sample, order, |_| true);
        let mut notes = Vec::new();
        if order.n_never_at_risk > 0 {
            notes.push(CurveNote::NeverAtRisk {
                n_rows: order.n_never_at_risk,
            });
        }
        if let Some(entered) = &entered {
            let counts = table
                .n_at_risk
                .iter()
                .zip(&table.n_events_of_any)
                .zip(&table.n_censored);
            let steps = order.times.iter().zip(order.times.iter().skip(1));
            notes.extend(steps.zip(counts).filter_map(
                |((&from, &to), ((&n_at_risk, &n_events), &n_censored))| {
                    let n_left = n_at_risk - n_events - n_censored;
                    if n_events > 0.0 && n_events == n_at_risk {
                        Some(CurveNote::RiskSetEmptied { time: from })
                    } else if n_left <= 1e-12 * n_at_risk && !has_entry_at(entered, from) {
                        Some(CurveNote::NobodyAtRisk { from, to })
                    } else {
                        None
                    }
                },
            ));
        }
        Self {
            n: sample.len(),
            notes,
            entered,
        }
    }
}

/// Whether a row enters at this very time, and so follows without a gap.
fn has_entry_at(entered: &[Entered], time: f64) -> bool {
    entered
        .binary_search_by(|entered| entered.time.total_cmp(&time))
        .is_ok()
}

/// When the rows that `is_member` keeps came under observation; `None` without delayed entry.
pub(crate) fn entered(
    sample: &Sample,
    order: &TimeOrder,
    is_member: impl Fn(usize) -> bool,
) -> Option<Arc<[Entered]>> {
    let entry = sample.entry()?;
    let fixed = FixedWeights::new(sample);
    let is_in = |row: usize| order.is_ever_at_risk(row) && is_member(row);
    let mut so_far = 0_i128;
    let mut running = |time: f64, units: i128| {
        so_far += units;
        Entered {
            time,
            n_so_far: fixed.weight_of(so_far),
        }
    };
    if let Some(largest) = order.largest_whole {
        let mut by_time = vec![0_i128; largest as usize + 1];
        for (row, &time) in entry.iter().enumerate().filter(|&(row, _)| is_in(row)) {
            if let Some(sum) = by_time.get_mut(time as usize) {
                *sum += fixed.units(row);
            }
        }
        let entered = by_time
            .into_iter()
            .enumerate()
            .filter(|&(_, units)| units > 0);
        return Some(
            entered
                .map(|(time, units)| running(time as f64, units))
                .collect(),
        );
    }
    let mut rows: Vec<(u64, i128)> = entry
        .iter()
        .enumerate()
        .filter(|&(row, _)| is_in(row))
        .map(|(row, &time)| (time.to_bits(), fixed.units(row)))
        .collect();
    rows.sort_unstable();
    let times = rows.chunk_by(|left, right| left.0 == right.0);
    let entered = times.filter_map(|rows| {
        let (bits, _) = rows.first()?;
        let units = rows.iter().map(|&(_, units)| units).sum();
        Some(running(f64::from_bits(*bits), units))
    });
    Some(entered.collect())
}
