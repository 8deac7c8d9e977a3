//! The probability of no event yet, from right-censored and late-entering follow-up.

use crate::curve::{Columns, Context, Curve, CurveOptions, Quantity, Start, Variance, assemble};
use crate::influence::{Changes, ClusteredRows, at, before, squared_influence};
use crate::risk_table::{RiskTable, counted_sample};
use crate::time_order::TimeOrder;
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
    let counted = counted_sample(sample)?;
    let (order, table) = (&counted.order, &counted.table);
    let context = Context::new(sample, order, table);
    let rows = (options.variance == Variance::Robust)
        .then(|| ClusteredRows::new(sample, order, counted.days.as_ref()));
    let estimate = event_free(table);
    let variance = event_free_variance(table, rows.as_ref(), options, &estimate);
    event_free_curve(order, table, estimate, variance, options, &context)
}

/// The variance of the probability of no event; `None` where that is 0.
pub(crate) fn event_free_variance(
    table: &RiskTable,
    rows: Option<&ClusteredRows<'_>>,
    options: &CurveOptions,
    estimate: &[f64],
) -> Vec<Option<f64>> {
    match rows {
        Some(rows) => robust_variance(table, rows, estimate),
        None => summed_variance(table, options.variance, estimate),
    }
}

/// The Kaplan-Meier curve from its values just after each time.
pub(crate) fn event_free_curve(
    order: &TimeOrder,
    table: &RiskTable,
    estimate: Vec<f64>,
    variance: Vec<Option<f64>>,
    options: &CurveOptions,
    context: &Context,
) -> Result<Curve, SurvivalError> {
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
fn robust_variance(
    table: &RiskTable,
    rows: &ClusteredRows<'_>,
    estimate: &[f64],
) -> Vec<Option<f64>> {
    let response = Response::new(table);
    let squares = rows.squares(&response);
    let mut held = 0.0;
    let steps = squares.iter().zip(&response.hazard_sum);
    steps
        .zip(estimate.iter().zip(&table.n_events_of_any))
        .map(|((squares, &hazard_sum), (&estimate, &n_events))| {
            // without an event nothing changes, to the last digit
            if n_events > 0.0 {
                held = squared_influence(squares, [1.0, hazard_sum]);
            }
            (estimate > 0.0).then_some(estimate * estimate * held)
        })
        .collect()
}

/// How log S answers to the weight of a row, by position.
struct Response {
    /// G just after each time.
    hazard_sum: Vec<f64>,
    /// 1/(n-d), 0 without an event or when nobody is spared.
    of_event: Vec<f64>,
}

impl Response {
    fn new(table: &RiskTable) -> Self {
        let mut sum = 0.0;
        let (hazard_sum, of_event) = table
            .n_at_risk
            .iter()
            .zip(&table.n_events_of_any)
            .map(|(&n_at_risk, &n_events)| {
                let n_spared = n_at_risk - n_events;
                if n_events > 0.0 && n_spared > 0.0 {
                    sum += n_events / (n_at_risk * n_spared);
                    (sum, 1.0 / n_spared)
                } else {
                    (sum, 0.0)
                }
            })
            .unzip();
        Self {
            hazard_sum,
            of_event,
        }
    }
}

impl Changes<2> for Response {
    fn entering(&self, position: usize) -> [f64; 2] {
        [before(&self.hazard_sum, position), -1.0]
    }

    fn leaving(&self, position: usize, cause: u32, _: bool) -> [f64; 2] {
        let of_event = if cause > 0 {
            at(&self.of_event, position)
        } else {
            0.0
        };
        [of_event - at(&self.hazard_sum, position), 1.0]
    }
}
