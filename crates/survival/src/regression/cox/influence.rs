//! What each row adds to the score, and the variances that come from it.

use crate::regression::cox::arrange::Arranged;
use crate::regression::cox::sweep::{Depth, RiskSets};
use crate::regression::moments::{Sharing, TieSums};
use crate::regression::{Cholesky, ModelTest, SquareMatrix, cluster_variance};

/// The baseline hazard of one stratum and what goes with it, by ascending event time. Vectors hold `n_terms` values for
/// each time, one after the other.
#[derive(Debug, Clone, Default)]
pub(crate) struct HazardSteps {
    pub(crate) times: Vec<f64>,
    /// Place of each event time among the distinct times of all rows.
    pub(crate) steps: Vec<u32>,
    /// Cumulative hazard at the centre of the covariates, the step at the time included.
    pub(crate) cumulative: Vec<f64>,
    /// Variance of the cumulative hazard, coefficients taken as known.
    pub(crate) variance: Vec<f64>,
    /// Integral of the mean covariate against the hazard.
    pub(crate) drift: Vec<f64>,
    /// Step of the hazard for a row that has the event at this time: smaller than the plain one under Efron's approximation.
    event_step: Vec<f64>,
    /// The same for the drift.
    event_drift: Vec<f64>,
    /// Mean covariate that an event at this time is compared with.
    pub(crate) event_mean: Vec<f64>,
    /// Total case weight of the events.
    pub(crate) event_weight: Vec<f64>,
}

impl HazardSteps {
    /// Number of event times at or before `time`.
    pub(crate) fn n_until(&self, time: f64) -> usize {
        self.times.partition_point(|&event_time| event_time <= time)
    }

    /// Number of event times at or before a step.
    pub(crate) fn n_until_step(&self, step: u32) -> usize {
        self.steps.partition_point(|&event_step| event_step <= step)
    }

    /// Number of event times a row at risk from `step` on has missed.
    pub(crate) fn n_before_step(&self, step: u32) -> usize {
        self.steps.partition_point(|&event_step| event_step < step)
    }

    pub(crate) fn cumulative_after(&self, n_steps: usize) -> f64 {
        n_steps
            .checked_sub(1)
            .map_or(0.0, |last| self.cumulative[last])
    }

    pub(crate) fn variance_after(&self, n_steps: usize) -> f64 {
        n_steps
            .checked_sub(1)
            .map_or(0.0, |last| self.variance[last])
    }

    pub(crate) fn drift_after(&self, n_steps: usize, n_terms: usize, term: usize) -> f64 {
        n_steps
            .checked_sub(1)
            .map_or(0.0, |last| self.drift[last * n_terms + term])
    }
}

/// Hazard steps of every stratum at standardised coefficients.
pub(crate) fn hazard_steps(
    sets: &impl RiskSets,
    sharing: Sharing,
    linear_predictors: &[f64],
) -> Vec<HazardSteps> {
    let arranged = sets.arranged();
    let n_terms = arranged.n_terms();
    let risk = arranged.risks(linear_predictors);
    let mut strata = vec![HazardSteps::default(); arranged.n_strata()];
    sets.visit(&risk, Depth::First, |set| {
        let steps = &mut strata[set.stratum];
        let sums = TieSums::of(
            sharing,
            set.n_events,
            set.event_weight,
            set.at_risk.risk,
            set.tied.risk,
        );
        steps.times.push(arranged.time_of(set.step));
        steps.steps.push(set.step);
        steps.event_weight.push(set.event_weight);
        steps.cumulative.push(sums.plain);
        steps.variance.push(sums.square);
        steps.event_step.push(sums.plain - sums.faded);
        for term in 0..n_terms {
            let (s, d) = (set.at_risk.first[term], set.tied.first[term]);
            steps.drift.push(sums.square * s - sums.square_faded * d);
            steps.event_drift.push(
                (sums.square - sums.square_faded) * s
                    - (sums.square_faded - sums.square_faded_twice) * d,
            );
            steps
                .event_mean
                .push(sums.mean_covariate(set.at_risk, set.tied, term) / set.event_weight);
        }
    });
    for steps in &mut strata {
        ascending(steps, n_terms);
    }
    strata
}

/// Turns steps met latest first into ascending, cumulative ones.
fn ascending(steps: &mut HazardSteps, n_terms: usize) {
    steps.steps.reverse();
    for column in [
        &mut steps.times,
        &mut steps.event_weight,
        &mut steps.cumulative,
        &mut steps.variance,
        &mut steps.event_step,
    ] {
        column.reverse();
    }
    for column in [
        &mut steps.drift,
        &mut steps.event_drift,
        &mut steps.event_mean,
    ] {
        reverse_rows(column, n_terms);
    }
    for column in [&mut steps.cumulative, &mut steps.variance] {
        let mut total = 0.0;
        for value in column.iter_mut() {
            total += *value;
            *value = total;
        }
    }
    for index in n_terms..steps.drift.len() {
        steps.drift[index] += steps.drift[index - n_terms];
    }
}

fn reverse_rows(column: &mut [f64], width: usize) {
    column.reverse();
    if width > 1 {
        column.chunks_exact_mut(width).for_each(<[f64]>::reverse);
    }
}

/// Exposure of one row: hazard it passed through, and hazard-weighted mean covariate.
pub(crate) struct Exposure<'a> {
    pub(crate) position: usize,
    /// Index of the row's own event time in `steps`, if it has the event.
    pub(crate) event: Option<usize>,
    pub(crate) hazard: f64,
    pub(crate) drift: &'a [f64],
    pub(crate) steps: &'a HazardSteps,
}

/// Visits every row with the hazard between its entry and its exit.
pub(crate) fn visit_exposures(
    arranged: &Arranged,
    strata: &[HazardSteps],
    mut visit: impl FnMut(&Exposure),
) {
    let n_terms = arranged.n_terms();
    let mut drift = vec![0.0; n_terms];
    for (stratum, steps) in strata.iter().enumerate() {
        let mut until_exit = 0;
        for position in arranged.stratum(stratum) {
            while steps
                .steps
                .get(until_exit)
                .is_some_and(|&step| step <= arranged.exit_step(position))
            {
                until_exit += 1;
            }
            let until_entry = if arranged.has_late_entry() {
                steps.n_before_step(arranged.entry_step(position))
            } else {
                0
            };
            let mut hazard =
                steps.cumulative_after(until_exit) - steps.cumulative_after(until_entry);
            for (term, value) in drift.iter_mut().enumerate() {
                *value = steps.drift_after(until_exit, n_terms, term)
                    - steps.drift_after(until_entry, n_terms, term);
            }
            let event = if arranged.is_event[position] {
                until_exit.checked_sub(1)
            } else {
                None
            };
            if let Some(own) = event {
                let before = steps.cumulative_after(own);
                hazard += steps.event_step[own] - (steps.cumulative[own] - before);
                for (term, value) in drift.iter_mut().enumerate() {
                    let plain =
                        steps.drift[own * n_terms + term] - steps.drift_after(own, n_terms, term);
                    *value += steps.event_drift[own * n_terms + term] - plain;
                }
            }
            visit(&Exposure {
                position,
                event,
                hazard,
                drift: &drift,
                steps,
            });
        }
    }
}

/// Score residuals times case weights, by position, on the standardised scale: they add up to the score (Therneau and
/// Grambsch 2000, section 4.6; for Efron's approximation the derivative in the case weight, with the mean weight of the
/// tied events).
pub(crate) fn weighted_score_residuals(
    arranged: &Arranged,
    sharing: Sharing,
    coefficients: &[f64],
) -> Vec<f64> {
    let n_terms = arranged.n_terms();
    let predictors = arranged.linear_predictors(coefficients);
    let strata = hazard_steps(arranged, sharing, &predictors);
    let mut residuals = vec![0.0; arranged.len() * n_terms];
    visit_exposures(arranged, &strata, |exposure| {
        let position = exposure.position;
        let risk = predictors[position].exp();
        let weight = arranged.weight_at(position);
        let row = arranged.covariates.row(position);
        let out = &mut residuals[position * n_terms..(position + 1) * n_terms];
        for (term, cell) in out.iter_mut().enumerate() {
            let expected = risk * (row[term] * exposure.hazard - exposure.drift[term]);
            let observed = exposure.event.map_or(0.0, |own| {
                row[term] - exposure.steps.event_mean[own * n_terms + term]
            });
            *cell = weight * (observed - expected);
        }
    });
    residuals
}

/// Infinitesimal jackknife covariance of the standardised coefficients.
pub(crate) fn robust_covariance(
    arranged: &Arranged,
    sharing: Sharing,
    coefficients: &[f64],
    model: &SquareMatrix,
) -> SquareMatrix {
    let residuals = weighted_score_residuals(arranged, sharing, coefficients);
    model.sandwich(&cluster_variance(
        &residuals,
        arranged.n_terms(),
        &arranged.clusters,
    ))
}

/// Score test at coefficients 0 with the variance of the score taken from the clusters (Lin and Wei 1989).
pub(crate) fn robust_score_test(
    arranged: &Arranged,
    sharing: Sharing,
    is_redundant: &[bool],
) -> ModelTest {
    let n_terms = arranged.n_terms();
    let residuals = weighted_score_residuals(arranged, sharing, &vec![0.0; n_terms]);
    let mut score = vec![0.0; n_terms];
    if n_terms > 0 {
        for row in residuals.chunks_exact(n_terms) {
            for (sum, value) in score.iter_mut().zip(row) {
                *sum += value;
            }
        }
    }
    let factor = Cholesky::of(
        &cluster_variance(&residuals, arranged.n_terms(), &arranged.clusters),
        1e-12,
        is_redundant,
    );
    let statistic = factor
        .solve(&score)
        .iter()
        .zip(&score)
        .map(|(a, b)| a * b)
        .sum();
    ModelTest::of(statistic, factor.rank())
}
