//! Cumulative incidence where several causes compete.

mod joint;
pub(crate) mod variance;

use crate::curve::{Columns, Context, Curve, CurveOptions, Quantity, Start, Variance, assemble};
use crate::influence::ClusteredRows;
use crate::kaplan_meier::{event_free, event_free_curve, event_free_variance};
use crate::risk_table::counted_sample;
use crate::{Sample, SurvivalError};
use joint::joint_variances;
use serde::Serialize;
use variance::{EndingResponse, Meaning, Step};

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
    let made = made(sample, None, options)?;
    Ok(CumulativeIncidence {
        causes: made.causes,
        event_free: made.event_free.ok_or(SurvivalError::NoRows)?,
    })
}

/// The incidence of one cause without the curves that [`aalen_johansen`] makes beside it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IncidenceOfCause {
    /// The curve; `None` when the cause neither occurs nor was declared.
    pub curve: Option<Curve>,
    /// Last distinct time, and the probability of no event of any cause by then.
    pub event_free_at_last: Option<(f64, f64)>,
}

/// The curve of one cause, digit for digit that of [`aalen_johansen`], without the work for the curves beside it.
///
/// # Errors
/// As [`aalen_johansen`].
pub fn incidence_of_cause(
    sample: &Sample,
    cause: u32,
    options: &CurveOptions,
) -> Result<IncidenceOfCause, SurvivalError> {
    let made = made(sample, Some(cause), options)?;
    Ok(IncidenceOfCause {
        curve: made.causes.into_iter().next(),
        event_free_at_last: made.event_free_at_last,
    })
}

/// The curves of a sample: of one cause alone, or of all with that of no event.
struct Made {
    causes: Vec<Curve>,
    event_free: Option<Curve>,
    event_free_at_last: Option<(f64, f64)>,
}

fn made(
    sample: &Sample,
    wanted: Option<u32>,
    options: &CurveOptions,
) -> Result<Made, SurvivalError> {
    let counted = counted_sample(sample)?;
    let (order, table) = (&counted.order, &counted.table);
    let context = Context::new(sample, order, table);
    let rows = (options.variance == Variance::Robust)
        .then(|| ClusteredRows::new(sample, order, counted.days.as_ref()));
    let event_free_after = event_free(table);

    let steps_of = |n_events: &Vec<f64>| {
        let at_risk = &table.n_at_risk;
        variance::steps(at_risk, n_events, &table.n_events_of_any, &event_free_after)
    };
    let of_causes = counted.causes.iter().zip(&table.n_events);
    let of_causes = of_causes.filter(|(cause, _)| wanted.is_none_or(|wanted| wanted == **cause));
    let (causes, n_events): (Vec<u32>, Vec<&Vec<f64>>) = of_causes
        .map(|(&cause, n_events)| (cause, n_events))
        .unzip();
    let steps: Vec<Vec<Step>> = n_events.iter().map(|events| steps_of(events)).collect();
    // The constants of other causes change no digit of one, but whether all could be taken together decides how it is summed.
    let joint = rows
        .as_ref()
        .filter(|_| counted.causes.len() <= joint::MOST_CAUSES)
        .and_then(|rows| joint_variances(&steps, &causes, rows, &event_free_after));
    let (of_causes, of_event_free) = match joint {
        Some(joint) => (joint.causes, Some(joint.event_free)),
        None => (Vec::new(), None),
    };
    let mut of_causes = of_causes.into_iter();

    let mut curves = Vec::with_capacity(causes.len());
    for ((cause, n_events), steps) in causes.into_iter().zip(n_events).zip(steps) {
        let joint = of_causes.next();
        let variance = match (joint, &rows) {
            (Some(variance), _) => variance,
            (None, Some(rows)) => {
                variance::robust(&steps, rows, EndingResponse::ProductLimit, |found| {
                    Meaning {
                        is_counted: found == cause,
                        is_ending: found > 0,
                    }
                })
            }
            (None, None) => variance::summed(&steps, options.variance),
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
    let last = order.times.last().copied();
    let event_free_at_last = last.zip(event_free_after.last().copied());
    if wanted.is_some() {
        return Ok(Made {
            causes: curves,
            event_free: None,
            event_free_at_last,
        });
    }
    let of_event_free = of_event_free
        .unwrap_or_else(|| event_free_variance(table, rows.as_ref(), options, &event_free_after));
    let event_free = event_free_curve(
        order,
        table,
        event_free_after,
        of_event_free,
        options,
        &context,
    )?;
    Ok(Made {
        causes: curves,
        event_free: Some(event_free),
        event_free_at_last,
    })
}
