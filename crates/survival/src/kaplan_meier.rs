//! The probability of no event yet, from right-censored and late-entering follow-up.

use crate::curve::{Columns, Context, Curve, CurveOptions, Quantity, Start, Variance, assemble};
use crate::influence::{InfluenceSquares, Movements};
use crate::risk_table::{RiskTable, risk_table};
use crate::time_order::{TimeOrder, time_order};
use crate::{Sample, SurvivalError};

/// Kaplan-Meier estimate of the probability of no event of any cause yet: product of 1 - d/n over the event times.
///
/// At ties events come before censorings. A probability in [0, 1]; its standard error is `None` once it is 0. Which
/// variance is printed is `options.variance` (see [`Variance`]). Where causes compete this is the probability of no event at all,
/// and 1 minus it the probability of any; for one of them use [`crate::aalen_johansen`].
///
/// # Errors
/// `LevelOutOfRange`; `EventAtEntry` when a span is shorter than the tie tolerance (1.5e-8 of the mean time).
///
/// Source: Kaplan and Meier, JASA 1958;53:457; delayed entry: Andersen, Borgan, Gill, Keiding 1993, section IV.3.
pub fn kaplan_meier(sample: &Sample, options: &CurveOptions) -> Result<Curve, SurvivalError> {
    let order = time_order(sample)?;
    let table = risk_table(sample, &order, &sample.causes(), |_| true);
    let context = Context::new(sample, &order, &table);
    let movements = (options.variance == Variance::Robust).then(|| Movements::new(sample, &order));
    event_free_curve(&order, &table, movements.as_ref(), options, &context)
}

/// The Kaplan-Meier curve from counts already made.
pub(crate) fn event_free_curve(
    order: &TimeOrder,
    table: &RiskTable,
    movements: Option<&Movements>,
    options: &CurveOptions,
    context: &Context,
) -> Result<Curve, SurvivalError> {
    let estimate = event_free(table);
    let variance = match movements {
        Some(movements) => robust_variance(table, movements, &estimate),
        None => summed_variance(table, options.variance, &estimate),
    };
    assemble(
        &order.times,
        Columns {
            quantity: Quantity::EventFree,
            cause: None,
            n_at_risk: &table.n_at_risk,
            n_events: &table.n_events_of_any,
            n_censored: &table.n_censored,
            estimate,
            variance,
            start: Start::at(1.0),
        },
        options,
        context,
    )
}

/// The product-limit estimate just after each time.
pub(crate) fn event_free(table: &RiskTable) -> Vec<f64> {
    product_limit(&table.n_at_risk, &table.n_events_of_any)
}

/// Running product of 1 - d/n.
pub(crate) fn product_limit(n_at_risk: &[f64], n_events: &[f64]) -> Vec<f64> {
    let mut event_free = 1.0;
    n_at_risk
        .iter()
        .zip(n_events)
        .map(|(&n_at_risk, &n_events)| {
            if n_events > 0.0 {
                event_free *= (n_at_risk - n_events) / n_at_risk;
            }
            event_free
        })
        .collect()
}

/// Greenwood's (Reports on Public Health 33, 1926) or the Poisson sum, times the squared estimate.
fn summed_variance(table: &RiskTable, variance: Variance, estimate: &[f64]) -> Vec<Option<f64>> {
    let mut sum = 0.0;
    table
        .n_at_risk
        .iter()
        .zip(&table.n_events_of_any)
        .zip(estimate)
        .map(|((&n_at_risk, &n_events), &estimate)| {
            if n_events > 0.0 {
                sum += match variance {
                    Variance::Aalen => n_events / (n_at_risk * n_at_risk),
                    Variance::Greenwood | Variance::Robust => {
                        n_events / (n_at_risk * (n_at_risk - n_events))
                    }
                };
            }
            (estimate > 0.0).then_some(estimate * estimate * sum)
        })
        .collect()
}

/// Infinitesimal jackknife. With G(t) = sum d/(n(n-d)) the influence of a row is
/// -w S(t) [ event/(n-d) - G(min(exit, t)) + G(entry) ]; basis (1, G).
fn robust_variance(table: &RiskTable, movements: &Movements, estimate: &[f64]) -> Vec<Option<f64>> {
    let mut influence = InfluenceSquares::<2>::new(movements.n_clusters);
    let (mut hazard_sum, mut squares) = (0.0, 0.0);
    table
        .n_at_risk
        .iter()
        .zip(&table.n_events_of_any)
        .zip(estimate)
        .enumerate()
        .map(|(position, ((&n_at_risk, &n_events), &estimate))| {
            for row in movements.entering(position) {
                influence.change(row.cluster, [row.weight * hazard_sum, -row.weight]);
            }
            let n_spared = n_at_risk - n_events;
            let of_event = if n_events > 0.0 && n_spared > 0.0 {
                hazard_sum += n_events / (n_at_risk * n_spared);
                1.0 / n_spared
            } else {
                0.0
            };
            for row in movements.leaving(position) {
                let of_row = if row.cause > 0 { of_event } else { 0.0 };
                influence.change(
                    row.cluster,
                    [row.weight * (of_row - hazard_sum), row.weight],
                );
            }
            // without an event nothing changes, to the last digit
            if n_events > 0.0 {
                squares = influence.at([1.0, hazard_sum]);
            }
            (estimate > 0.0).then_some(estimate * estimate * squares)
        })
        .collect()
}
