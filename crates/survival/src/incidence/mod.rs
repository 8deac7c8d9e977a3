//! Cumulative incidence where several causes compete.

pub(crate) mod variance;

use crate::curve::{Columns, Context, Curve, CurveOptions, Quantity, Start, Variance, assemble};
use crate::influence::ClusteredRows;
use crate::kaplan_meier::{event_free, event_free_curve};
use crate::risk_table::counted_sample;
use crate::{Sample, SurvivalError};
use serde::Serialize;
use variance::{EndingResponse, Meaning};

/// The incidence of each cause and the probability of none; at every time they add up to 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CumulativeIncidence {
    /// One curve for each cause that occurs or was declared, in increasing order of the cause.
    pub causes: Vec<Curve>,
    /// The probability of no event of any cause yet.
    pub event_free: Curve,
}

impl CumulativeIncidence {
    /// The curve of one cause; `None` when it neither occurs nor was declared.
    pub fn of_cause(&self, cause: u32) -> Option<&Curve> {
        self.causes.iter().find(|curve| curve.cause == Some(cause))
    }
}

/// Aalen-Johansen estimate of the probability of an event of each cause by then: sum of S(t-) d/n of the cause.
///
/// At ties events of all causes happen at once, before censorings. Probabilities in [0, 1]. A cause declared by
/// [`Sample::with_causes`] without events is 0 throughout. The variance is `options.variance`: the multinomial
/// one (`Greenwood`), Aalen's (a little larger, and wild where one is at risk) or the infinitesimal jackknife
/// (`Robust`); the first and the last agree on unweighted right-censored rows.
///
/// # Errors
/// As [`crate::kaplan_meier`].
///
/// Source: Aalen and Johansen, Scand J Stat 1978;5:141; Andersen, Borgan, Gill, Keiding 1993, section IV.4.
pub fn aalen_johansen(
    sample: &Sample,
    options: &CurveOptions,
) -> Result<CumulativeIncidence, SurvivalError> {
    let counted = counted_sample(sample)?;
    let (order, table) = (&counted.order, &counted.table);
    let context = Context::new(sample, order, table);
    let rows = (options.variance == Variance::Robust)
        .then(|| ClusteredRows::new(sample, order, counted.days.as_ref()));
    let event_free_after = event_free(table);

    let mut curves = Vec::with_capacity(counted.causes.len());
    for (&cause, n_events) in counted.causes.iter().zip(&table.n_events) {
        let steps = variance::steps(
            &table.n_at_risk,
            n_events,
            &table.n_events_of_any,
            &event_free_after,
        );
        let variance = match &rows {
            Some(rows) => variance::robust(&steps, rows, EndingResponse::ProductLimit, |found| {
                Meaning {
                    is_counted: found == cause,
                    is_ending: found > 0,
                }
            }),
            None => variance::summed(&steps, options.variance),
        };
        curves.push(assemble(
            &order.times,
            Columns {
                quantity: Quantity::Incidence,
                cause: Some(cause),
                n_at_risk: &table.n_at_risk,
                n_events,
                n_censored: &table.n_censored,
                // a sum of increments may pass 1 in the last digit
                estimate: steps.iter().map(|step| step.estimate.min(1.0)).collect(),
                variance,
                start: Start::at(0.0),
            },
            options,
            &context,
        )?);
    }
    Ok(CumulativeIncidence {
        causes: curves,
        event_free: event_free_curve(order, table, rows.as_ref(), options, &context)?,
    })
}
