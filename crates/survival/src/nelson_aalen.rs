//! The cumulative hazard.

use crate::curve::{Columns, Context, Curve, CurveOptions, Quantity, Start, Variance, assemble};
use crate::influence::{InfluenceSquares, Movements};
use crate::risk_table::{RiskTable, risk_table};
use crate::time_order::time_order;
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
    let order = time_order(sample)?;
    let table = risk_table(sample, &order, &sample.causes(), |_| true);
    let mut hazard = 0.0;
    let estimate = events_and_risk(&table)
        .map(|(n_events, n_at_risk)| {
            if n_events > 0.0 {
                hazard += n_events / n_at_risk;
            }
            hazard
        })
        .collect();
    let variance = match options.variance {
        Variance::Robust => robust_variance(&table, &Movements::new(sample, &order)),
        Variance::Greenwood | Variance::Aalen => summed_variance(&table, options.variance),
    };
    let context = Context::new(sample, &order, &table);
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
fn robust_variance(table: &RiskTable, movements: &Movements) -> Vec<Option<f64>> {
    let mut influence = InfluenceSquares::<2>::new(movements.n_clusters);
    let (mut sum, mut squares) = (0.0, 0.0);
    events_and_risk(table)
        .enumerate()
        .map(|(position, (n_events, n))| {
            for row in movements.entering(position) {
                influence.change(row.cluster, [row.weight * sum, -row.weight]);
            }
            sum += if n_events > 0.0 {
                n_events / (n * n)
            } else {
                0.0
            };
            for row in movements.leaving(position) {
                let of_event = if row.cause > 0 { 1.0 / n } else { 0.0 };
                influence.change(row.cluster, [row.weight * (of_event - sum), row.weight]);
            }
            if n_events > 0.0 {
                squares = influence.at([1.0, sum]);
            }
            Some(squares)
        })
        .collect()
}
