//! What each row adds to the score, and the variances that come from it.

use crate::regression::cox::arrange::Arranged;
use crate::regression::cox::sweep::RiskSets;
use crate::regression::moments::{Sharing, TieSums};
use crate::regression::{Cholesky, ModelTest, SquareMatrix, outer_square};

/// The baseline hazard at the centre of the covariates and what goes with it, by slot. Vectors hold `n_terms` values for each
/// slot, one after the other.
#[derive(Debug, Clone)]
pub(crate) struct Hazard {
    n_terms: usize,
    /// Cumulative hazard, the step at the time included.
    pub(crate) cumulative: Vec<f64>,
    /// Variance of the cumulative hazard, coefficients taken as known.
    pub(crate) variance: Vec<f64>,
    /// Integral of the mean covariate against the hazard.
    drift: Vec<f64>,
    /// By how much the hazard step is less for a row that has the event at this time (Efron's approximation).
    event_fade: Vec<f64>,
    /// The same for the drift.
    event_drift_fade: Vec<f64>,
    /// Mean covariate that an event at this time is compared with.
    event_mean: Vec<f64>,
}

impl Hazard {
    pub(crate) fn drift(&self, slot: usize) -> &[f64] {
        &self.drift[slot * self.n_terms..(slot + 1) * self.n_terms]
    }

    pub(crate) fn event_mean(&self, slot: usize) -> &[f64] {
        &self.event_mean[slot * self.n_terms..(slot + 1) * self.n_terms]
    }

    /// Step of the hazard at an event time.
    pub(crate) fn step(&self, slot: usize) -> f64 {
        self.cumulative[slot] - self.cumulative[slot - 1]
    }
}

/// The hazard; `risk` is weight times exp(linear predictor), by position.
pub(crate) fn hazard(sets: &impl RiskSets, sharing: Sharing, risk: &[f64]) -> Hazard {
    let arranged = sets.arranged();
    let (n_terms, n_slots) = (arranged.n_terms(), arranged.slots.len());
    let (scalars, vectors) = (vec![0.0; n_slots], vec![0.0; n_slots * n_terms]);
    let mut hazard = Hazard {
        n_terms,
        cumulative: scalars.clone(),
        variance: scalars.clone(),
        drift: vectors.clone(),
        event_fade: scalars,
        event_drift_fade: vectors.clone(),
        event_mean: vectors,
    };
    sets.visit(risk, |set| {
        let sums = TieSums::of(
            sharing,
            set.n_events,
            set.event_weight,
            set.at_risk.risk,
            set.tied.risk,
        );
        hazard.cumulative[set.slot] = sums.plain;
        hazard.variance[set.slot] = sums.square;
        hazard.event_fade[set.slot] = sums.faded;
        for term in 0..n_terms {
            let (s, d) = (set.at_risk.first[term], set.tied.first[term]);
            let cell = set.slot * n_terms + term;
            hazard.drift[cell] = sums.square * s - sums.square_faded * d;
            hazard.event_drift_fade[cell] = sums.square_faded * s - sums.square_faded_twice * d;
            hazard.event_mean[cell] =
                sums.mean_covariate(set.at_risk, set.tied, term) / set.event_weight;
        }
    });
    arranged.slots.accumulate(&mut hazard.cumulative, 1);
    arranged.slots.accumulate(&mut hazard.variance, 1);
    arranged.slots.accumulate(&mut hazard.drift, n_terms);
    hazard
}

/// Exposure of one row: hazard it passed through, and hazard-weighted mean covariate.
pub(crate) struct Exposure<'a> {
    pub(crate) position: usize,
    /// Slot of the row's own event time, if it has the event.
    pub(crate) event: Option<usize>,
    pub(crate) hazard: f64,
    pub(crate) drift: &'a [f64],
}

/// Visits every row with the hazard between its entry and its exit.
pub(crate) fn visit_exposures(
    arranged: &Arranged,
    hazard: &Hazard,
    mut visit: impl FnMut(&Exposure),
) {
    let mut drift = vec![0.0; arranged.n_terms()];
    for position in 0..arranged.len() {
        let (exit, entry) = (
            arranged.slots.exit[position] as usize,
            arranged.slots.entry[position] as usize,
        );
        let event = arranged.is_event[position].then_some(exit);
        let mut passed = hazard.cumulative[exit] - hazard.cumulative[entry];
        for ((value, at_exit), at_entry) in drift
            .iter_mut()
            .zip(hazard.drift(exit))
            .zip(hazard.drift(entry))
        {
            *value = at_exit - at_entry;
        }
        if let Some(own) = event {
            passed -= hazard.event_fade[own];
            for (value, fade) in drift
                .iter_mut()
                .zip(&hazard.event_drift_fade[own * hazard.n_terms..])
            {
                *value -= fade;
            }
        }
        visit(&Exposure {
            position,
            event,
            hazard: passed,
            drift: &drift,
        });
    }
}

/// Visits the score residual of every row times its case weight, on the standardised scale: they add up to the score (Therneau
/// and Grambsch 2000, section 4.6; for Efron's approximation the derivative in the case weight, with the mean weight of the
/// tied events).
fn visit_weighted_scores(
    arranged: &Arranged,
    sharing: Sharing,
    coefficients: &[f64],
    mut visit: impl FnMut(usize, &[f64]),
) {
    let risk = arranged.risks(&arranged.linear_predictors(coefficients));
    let hazard = hazard(arranged, sharing, &risk);
    let mut score = vec![0.0; arranged.n_terms()];
    visit_exposures(arranged, &hazard, |exposure| {
        let position = exposure.position;
        let row = arranged.covariates.row(position);
        // a row gone before the first event passes through no hazard, however large its risk
        let risk = if exposure.hazard == 0.0 {
            0.0
        } else {
            risk[position]
        };
        for ((cell, x), drift) in score.iter_mut().zip(row).zip(exposure.drift) {
            *cell = -risk * (x * exposure.hazard - drift);
        }
        if let Some(own) = exposure.event {
            let weight = arranged.weight_at(position);
            for ((cell, x), mean) in score.iter_mut().zip(row).zip(hazard.event_mean(own)) {
                *cell += weight * (x - mean);
            }
        }
        visit(position, &score);
    });
}

/// Weighted score residuals by position, one row after the other.
pub(crate) fn weighted_score_residuals(
    arranged: &Arranged,
    sharing: Sharing,
    coefficients: &[f64],
) -> Vec<f64> {
    let mut residuals = Vec::with_capacity(arranged.len() * arranged.n_terms());
    visit_weighted_scores(arranged, sharing, coefficients, |_, score| {
        residuals.extend(score)
    });
    residuals
}

/// Weighted score residuals summed within clusters.
fn cluster_scores(arranged: &Arranged, sharing: Sharing, coefficients: &[f64]) -> Vec<f64> {
    let n_terms = arranged.n_terms();
    let mut sums = vec![0.0; arranged.clusters.n_clusters * n_terms];
    visit_weighted_scores(arranged, sharing, coefficients, |position, score| {
        let start = arranged.clusters.of_position[position] as usize * n_terms;
        for (sum, value) in sums[start..start + n_terms].iter_mut().zip(score) {
            *sum += value;
        }
    });
    sums
}

/// Infinitesimal jackknife covariance of the standardised coefficients.
pub(crate) fn robust_covariance(
    arranged: &Arranged,
    sharing: Sharing,
    coefficients: &[f64],
    model: &SquareMatrix,
) -> SquareMatrix {
    model.sandwich(&outer_square(
        &cluster_scores(arranged, sharing, coefficients),
        arranged.n_terms(),
    ))
}

/// Score test at coefficients 0 with the variance of the score taken from the clusters (Lin and Wei 1989).
pub(crate) fn robust_score_test(
    arranged: &Arranged,
    sharing: Sharing,
    is_redundant: &[bool],
) -> ModelTest {
    let n_terms = arranged.n_terms();
    let sums = cluster_scores(arranged, sharing, &vec![0.0; n_terms]);
    let mut score = vec![0.0; n_terms];
    for row in sums.chunks_exact(n_terms.max(1)) {
        for (sum, value) in score.iter_mut().zip(row) {
            *sum += value;
        }
    }
    let factor = Cholesky::of(&outer_square(&sums, n_terms), 1e-12, is_redundant);
    let statistic = factor
        .solve(&score)
        .iter()
        .zip(&score)
        .map(|(a, b)| a * b)
        .sum();
    ModelTest::of(statistic, factor.rank())
}
