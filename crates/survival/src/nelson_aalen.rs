//! The cumulative hazard.

use crate::curve::{Columns, Context, Curve, CurveOptions, Quantity, Start, Variance, assemble};
use crate::influence::{Changes, ClusteredRows, at, before, squared_influence};
use crate::risk_table::{RiskTable, counted_sample};
use crate::{Sample, SurvivalError};

/// Nelson-Aalen estimate of the cumulative hazard of an event of any cause: sum of d/n over the event times.
///
/// In events per subject, 0 or more, without bound. For one cause, call it on [`Sample::only_cause`]. The variance is
/// `options.variance`: `Aalen` sum d/n^2 (the usual one), `Greenwood` the smaller sum d(n-d)/n^3, `Robust` the
/// infinitesimal jackknife. Tied events count at once, so a last event of all at risk adds 1.
///
/// # Errors
/// As [`crate::kaplan_meier`].
///
/// Source: Nelson, Technometrics 1972;14:945; Aalen, Ann Stat 1978;6:701; the binomial variance: Klein, Scand J Stat 1991;18:333.
pub fn nelson_aalen(sample: &Sample, options: &CurveOptions) -> Result<Curve, SurvivalError> {
    let counted = counted_sample(sample)?;
    let (order, table) = (&counted.order, &counted.table);
    let mut hazard = 0.0;
    let estimate = events_and_risk(table)
        .map(|(n_events, n_at_risk)| {
            if n_events > 0.0 {
                hazard += n_events / n_at_risk;
            }
            hazard
        })
        .collect();
    let variance = match options.variance {
        Variance::Robust => {
            let rows = ClusteredRows::new(sample, order, counted.days.as_ref());
            robust_variance(table, &rows)
        }
        Variance::Greenwood | Variance::Aalen => summed_variance(table, options.variance),
    };
    let context = Context::new(sample, order, table);
    assemble(
        &order.times,
        Columns {
            quantity: Quantity::CumulativeHazard,
            cause: None,
            n_at_risk: &table.n_at_risk,
            n_events: &table.n_events_of_any,
            n_censored: &table.n_censored,
            estimate,
            variance,
            start: Start::at(0.0),
        },
        options,
        &context,
    )
}

fn events_and_risk(table: &RiskTable) -> impl Iterator<Item = (f64, f64)> {
    let events = table.n_events_of_any.iter();
    events.copied().zip(table.n_at_risk.iter().copied())
}

fn summed_variance(table: &RiskTable, variance: Variance) -> Vec<Option<f64>> {
    let mut sum = 0.0;
    events_and_risk(table)
        .map(|(n_events, n)| {
            if n_events > 0.0 {
                let spared = match variance {
                    Variance::Greenwood => (n - n_events) / n,
                    Variance::Aalen | Variance::Robust => 1.0,
                };
                sum += spared * n_events / (n * n);
            }
            Some(sum)
        })
        .collect()
}

/// Infinitesimal jackknife. With L(t) = sum d/n^2 the influence of a row is
/// w [ event/n - L(min(exit, t)) + L(entry) ]; basis (1, L).
fn robust_variance(table: &RiskTable, rows: &ClusteredRows<'_>) -> Vec<Option<f64>> {
    let mut sum = 0.0;
    let response = Response {
        sum: events_and_risk(table)
            .map(|(n_events, n)| {
                sum += if n_events > 0.0 {
                    n_events / (n * n)
                } else {
                    0.0
                };
                sum
            })
            .collect(),
        n_at_risk: &table.n_at_risk,
    };
    let squares = rows.squares(&response);
    let mut held = 0.0;
    squares
        .iter()
        .zip(response.sum.iter().zip(&table.n_events_of_any))
        .map(|(squares, (&sum, &n_events))| {
            // without an event nothing changes, to the last digit
            if n_events > 0.0 {
                held = squared_influence(squares, [1.0, sum]);
            }
            Some(held)
        })
        .collect()
}

/// How the sum of d/n answers to the weight of a row, by position.
struct Response<'table> {
    /// L just after each time.
    sum: Vec<f64>,
    n_at_risk: &'table [f64],
}

impl Changes<2> for Response<'_> {
    fn entering(&self, position: usize) -> [f64; 2] {
        [before(&self.sum, position), -1.0]
    }

    fn leaving(&self, position: usize, cause: u32, _: bool) -> [f64; 2] {
        let of_event = if cause > 0 {
            1.0 / at(self.n_at_risk, position)
        } else {
            0.0
        };
        [of_event - at(&self.sum, position), 1.0]
    }
}
