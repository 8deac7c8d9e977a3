//! Events that can happen again: how many a subject has had on average.

mod history;

pub use history::EventHistory;
pub(crate) use history::{after_an_event_at_0, rows_by_subject};

use crate::SurvivalError;
use crate::curve::{Columns, Context, Curve, CurveOptions, Quantity, Start, Variance, assemble};
use crate::incidence::variance::{self, EndingResponse, Meaning};
use crate::influence::ClusteredRows;
use crate::kaplan_meier::product_limit;
use crate::risk_table::risk_table;
use crate::time_order::time_order;

/// Mean cumulative count: the number of events a subject has had on average by then, 0 or more.
///
/// Without terminal events the sum of d/n (Nelson's estimate). With them, the sum of S(t-) d/n, S being the Kaplan-Meier
/// curve of the terminal events: subjects who have died have no more events but stay in the mean, so this is the count per
/// subject who started, not per subject still alive. The variance is `options.variance`: `Robust` sums each subject's influence
/// (or its cluster's) and is the one to use; with terminal events it is Ghosh and Lin's, in
/// which those answer as a hazard, and so a little small when many of the subjects end at one time. `Aalen` is the Poisson sum of d/n^2, too small when subjects
/// differ, and defined without terminal events only.
///
/// # Errors
/// `NotDefined` for `Greenwood`, and for `Aalen` with terminal events; `LevelOutOfRange`.
///
/// Source: Nelson, J Qual Technol 1988;20:24; Lawless and Nadeau, Technometrics 1995;37:158; with terminal events Ghosh and
/// Lin, Biometrics 2000;56:554, eq. 2.
pub fn mean_cumulative_count(
    history: &EventHistory,
    options: &CurveOptions,
) -> Result<Curve, SurvivalError> {
    let sample = history.sample();
    let has_terminal = sample
        .cause()
        .iter()
        .any(|&cause| history.is_terminal(cause));
    let order = time_order(sample)?;
    let causes = sample.causes();
    let table = risk_table(sample, &order, &causes, |_| true);
    let mut n_counted = vec![0.0; order.times.len()];
    let mut n_ending = n_counted.clone();
    for (&cause, n_events) in causes.iter().zip(&table.n_events) {
        let sums = if history.is_terminal(cause) {
            &mut n_ending
        } else {
            &mut n_counted
        };
        for (sum, n_events) in sums.iter_mut().zip(n_events) {
            *sum += n_events;
        }
    }
    let event_free = product_limit(&table.n_at_risk, &n_ending);
    let steps = variance::steps(&table.n_at_risk, &n_counted, &n_ending, &event_free);
    let not_defined = |choice| SurvivalError::NotDefined {
        choice,
        estimator: "the mean cumulative count",
    };
    let variance = match options.variance {
        Variance::Robust => {
            let rows = ClusteredRows::new(sample, &order, None);
            variance::robust(&steps, &rows, EndingResponse::Hazard, |cause| {
                let is_terminal = history.is_terminal(cause);
                Meaning {
                    is_counted: cause > 0 && !is_terminal,
                    is_ending: is_terminal,
                }
            })
        }
        Variance::Aalen if has_terminal => {
            return Err(not_defined("the Poisson variance with terminal events"));
        }
        Variance::Aalen => variance::poisson(&steps),
        Variance::Greenwood => return Err(not_defined("Greenwood's variance")),
    };
    let mut context = Context::new(sample, &order, &table);
    context.n = history.n_subjects();
    assemble(
        &order.times,
        Columns {
            quantity: Quantity::MeanCount,
            cause: None,
            n_at_risk: &table.n_at_risk,
            n_events: &n_counted,
            n_censored: &table.n_censored,
            estimate: steps.iter().map(|step| step.estimate).collect(),
            variance,
            start: Start::at(0.0),
        },
        options,
        &context,
    )
}
