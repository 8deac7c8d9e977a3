//! Three variances of a cumulative incidence.

use crate::curve::Variance;
use crate::influence::{InfluenceSquares, Movements};
use crate::risk_table::RiskTable;

/// One distinct time, as the variances need it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    n_at_risk: f64,
    n_of_cause: f64,
    n_of_any: f64,
    /// Probability of no event just before the time.
    event_free_before: f64,
    /// Cumulative incidence just after the time.
    pub(super) incidence: f64,
}

/// The times of a table, with the incidence of one cause.
pub(super) fn steps(table: &RiskTable, n_of_cause: &[f64], event_free_after: &[f64]) -> Vec<Step> {
    let before = std::iter::once(&1.0).chain(event_free_after);
    let mut incidence = 0.0;
    table
        .n_at_risk
        .iter()
        .zip(n_of_cause)
        .zip(&table.n_events_of_any)
        .zip(before)
        .map(
            |(((&n_at_risk, &n_of_cause), &n_of_any), &event_free_before)| {
                if n_of_cause > 0.0 {
                    incidence += event_free_before * n_of_cause / n_at_risk;
                }
                Step {
                    n_at_risk,
                    n_of_cause,
                    n_of_any,
                    event_free_before,
                    incidence,
                }
            },
        )
        .collect()
}

/// Variances from independent increments, carried along as the covariance of (event-free, incidence).
///
/// The increments of one time have the multinomial covariance (Greenwood), or are taken as independent between causes
/// with variance d/n^2 (n-d)/(n-1) (Aalen). Once nobody is left event-free there is nothing more to carry.
pub(super) fn summed(steps: &[Step], variance: Variance) -> Vec<Option<f64>> {
    let (mut of_free, mut of_both, mut of_incidence) = (0.0, 0.0, 0.0);
    steps
        .iter()
        .map(|step| {
            if step.n_of_any > 0.0 {
                let n = step.n_at_risk;
                let hazard = step.n_of_cause / n;
                let hazard_of_any = step.n_of_any / n;
                let scale = step.event_free_before * step.event_free_before;
                // covariance of the increments of (all causes, this cause)
                let (any_any, any_cause, cause_cause) = match variance {
                    Variance::Aalen => {
                        let cause = poisson_with_ties(step.n_of_cause, n);
                        let other = poisson_with_ties(step.n_of_any - step.n_of_cause, n);
                        (cause + other, cause, cause)
                    }
                    Variance::Greenwood | Variance::Robust => (
                        hazard_of_any * (1.0 - hazard_of_any) / n,
                        hazard * (1.0 - hazard_of_any) / n,
                        hazard * (1.0 - hazard) / n,
                    ),
                };
                of_incidence +=
                    2.0 * hazard * of_both + hazard * hazard * of_free + scale * cause_cause;
                if step.n_of_any < n {
                    let spared = 1.0 - hazard_of_any;
                    of_both = spared * (of_both + hazard * of_free) - scale * any_cause;
                    of_free = spared * spared * of_free + scale * any_any;
                } else {
                    (of_both, of_free) = (0.0, 0.0);
                }
            }
            Some(of_incidence)
        })
        .collect()
}

fn poisson_with_ties(n_events: f64, n_at_risk: f64) -> f64 {
    let ties = if n_events > 1.0 {
        (n_at_risk - n_events) / (n_at_risk - 1.0)
    } else {
        1.0
    };
    ties * n_events / (n_at_risk * n_at_risk)
}

/// Infinitesimal jackknife.
///
/// With F the incidence, G(t) = sum d/(n(n-d)) over all causes, and K(t) = sum S(t-) d_cause/n (G(t-) - 1/n), the influence of a row of weight w at risk is
/// w [ K(t) - K(entry) - G(entry) (F(t) - F(entry)) ]; leaving adds w S(t-)/n for an event of the cause and fixes the row's
/// share in S, so that the influence goes on as a multiple of F. Basis (1, F, K).
pub(super) fn robust(steps: &[Step], movements: &Movements, cause: u32) -> Vec<Option<f64>> {
    let mut influence = InfluenceSquares::<3>::new(movements.n_clusters);
    let (mut hazard_sum, mut drift, mut incidence_before) = (0.0, 0.0, 0.0);
    let mut squares = 0.0;
    steps
        .iter()
        .enumerate()
        .map(|(position, step)| {
            for row in movements.entering(position) {
                let entered = hazard_sum * incidence_before - drift;
                influence.change(
                    row.cluster,
                    [row.weight * entered, -row.weight * hazard_sum, row.weight],
                );
            }
            let n = step.n_at_risk;
            let n_spared = n - step.n_of_any;
            if step.n_of_cause > 0.0 {
                let increment = step.event_free_before * step.n_of_cause / n;
                drift += increment * (hazard_sum - 1.0 / n);
            }
            let of_any_event = if step.n_of_any > 0.0 && n_spared > 0.0 {
                hazard_sum += step.n_of_any / (n * n_spared);
                1.0 / n_spared
            } else {
                0.0
            };
            for row in movements.leaving(position) {
                let of_row = if row.cause > 0 { of_any_event } else { 0.0 };
                let of_event = if row.cause == cause {
                    step.event_free_before / n
                } else {
                    0.0
                };
                let share = of_row - hazard_sum;
                influence.change(
                    row.cluster,
                    [
                        row.weight * (drift + of_event + share * step.incidence),
                        -row.weight * share,
                        -row.weight,
                    ],
                );
            }
            incidence_before = step.incidence;
            // without an event nothing changes, to the last digit
            if step.n_of_any > 0.0 {
                squares = influence.at([1.0, step.incidence, drift]);
            }
            Some(squares)
        })
        .collect()
}
