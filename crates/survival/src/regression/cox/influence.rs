//! What each row adds to the score, and the variances that come from it.

use crate::halves::fill_in_halves;
use crate::regression::cox::arrange::{Arranged, Part};
use crate::regression::cox::sweep::{Kept, RiskSet, RiskSets};
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
    let parts = arranged.in_parts(|part| {
        let mut steps = Hazard::none(arranged, part);
        sets.visit(risk, part, |set| {
            steps.note(set, &set.tie_sums(sharing), part.slots.start);
        });
        steps
    });
    Hazard::summed(arranged, parts)
}

impl Hazard {
    /// No step at the slots of a part.
    pub(crate) fn none(arranged: &Arranged, part: &Part) -> Self {
        let (n_terms, n_slots) = (arranged.n_terms(), part.slots.len());
        let (scalars, vectors) = (vec![0.0; n_slots], vec![0.0; n_slots * n_terms]);
        Self {
            n_terms,
            cumulative: scalars.clone(),
            variance: scalars.clone(),
            drift: vectors.clone(),
            event_fade: scalars,
            event_drift_fade: vectors.clone(),
            event_mean: vectors,
        }
    }

    /// Notes the step at a risk set of the part that begins at `first_slot`.
    #[inline]
    pub(crate) fn note(&mut self, set: &RiskSet, sums: &TieSums, first_slot: usize) {
        let slot = set.slot - first_slot;
        self.cumulative[slot] = sums.plain;
        self.variance[slot] = sums.square;
        self.event_fade[slot] = sums.faded;
        for term in 0..self.n_terms {
            let (s, d) = (set.at_risk.first[term], set.tied.first[term]);
            let cell = slot * self.n_terms + term;
            self.drift[cell] = sums.square * s - sums.square_faded * d;
            self.event_drift_fade[cell] = sums.square_faded * s - sums.square_faded_twice * d;
            self.event_mean[cell] =
                sums.mean_covariate(set.at_risk, set.tied, term) / set.event_weight;
        }
    }

    /// The steps of both parts, summed over time.
    pub(crate) fn summed(arranged: &Arranged, [mut hazard, later]: [Self; 2]) -> Self {
        hazard.cumulative.extend(later.cumulative);
        hazard.variance.extend(later.variance);
        hazard.drift.extend(later.drift);
        hazard.event_fade.extend(later.event_fade);
        hazard.event_drift_fade.extend(later.event_drift_fade);
        hazard.event_mean.extend(later.event_mean);
        let n_terms = arranged.n_terms();
        arranged.slots.accumulate(&mut hazard.cumulative, 1);
        arranged.slots.accumulate(&mut hazard.variance, 1);
        arranged.slots.accumulate(&mut hazard.drift, n_terms);
        hazard
    }
}

/// Exposure of one row: hazard it passed through, and hazard-weighted mean covariate.
pub(crate) struct Exposure<'a> {
    pub(crate) position: usize,
    /// Slot of the row's own event time, if it has the event.
    pub(crate) event: Option<usize>,
    pub(crate) hazard: f64,
    pub(crate) drift: &'a [f64],
}

/// Visits rows with the hazard between their entry and their exit.
pub(crate) fn visit_exposures(
    arranged: &Arranged,
    hazard: &Hazard,
    positions: impl Iterator<Item = usize>,
    mut visit: impl FnMut(&Exposure),
) {
    let mut drift = vec![0.0; arranged.n_terms()];
    for position in positions {
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

/// What the score residuals of all rows are made of.
struct Scores<'a> {
    arranged: &'a Arranged,
    risk: Vec<f64>,
    hazard: Hazard,
}

impl<'a> Scores<'a> {
    fn of(arranged: &'a Arranged, sharing: Sharing, coefficients: &[f64]) -> Scores<'a> {
        let risk = arranged.risks_at(coefficients);
        let hazard = hazard(arranged, sharing, &risk);
        Scores {
            arranged,
            risk,
            hazard,
        }
    }

    /// Visits the score residuals of rows times their case weights, on the standardised scale: over all rows they add up to the
    /// score (Therneau and Grambsch 2000, section 4.6; for Efron's approximation the derivative in the case weight, with the
    /// mean weight of the tied events).
    fn visit(&self, positions: impl Iterator<Item = usize>, mut visit: impl FnMut(usize, &[f64])) {
        let arranged = self.arranged;
        let mut score = vec![0.0; arranged.n_terms()];
        visit_exposures(arranged, &self.hazard, positions, |exposure| {
            let position = exposure.position;
            let row = arranged.covariates.row(position);
            // a row gone before the first event passes through no hazard, however large its risk
            let risk = if exposure.hazard == 0.0 {
                0.0
            } else {
                self.risk[position]
            };
            for ((cell, x), drift) in score.iter_mut().zip(row).zip(exposure.drift) {
                *cell = -risk * (x * exposure.hazard - drift);
            }
            if let Some(own) = exposure.event {
                let weight = arranged.weight_at(position);
                let means = self.hazard.event_mean(own);
                for ((cell, x), mean) in score.iter_mut().zip(row).zip(means) {
                    *cell += weight * (x - mean);
                }
            }
            visit(position, &score);
        });
    }
}

/// Weighted score residuals by position, one row after the other.
pub(crate) fn weighted_score_residuals(
    arranged: &Arranged,
    sharing: Sharing,
    coefficients: &[f64],
) -> Vec<f64> {
    let mut residuals = Vec::with_capacity(arranged.len() * arranged.n_terms());
    let scores = Scores::of(arranged, sharing, coefficients);
    scores.visit(0..arranged.len(), |_, score| residuals.extend(score));
    residuals
}

const ROWS_AT_A_TIME: usize = 256;

/// Weighted score residuals summed within clusters, half of the clusters at a time. Models of the usual size have their loops unrolled.
fn cluster_scores(scores: &Scores<'_>) -> Vec<f64> {
    match scores.arranged.n_terms() {
        0 => Vec::new(),
        1 => scores.summed_of::<1>(),
        2 => scores.summed_of::<2>(),
        3 => scores.summed_of::<3>(),
        4 => scores.summed_of::<4>(),
        5 => scores.summed_of::<5>(),
        6 => scores.summed_of::<6>(),
        7 => scores.summed_of::<7>(),
        8 => scores.summed_of::<8>(),
        9 => scores.summed_of::<9>(),
        10 => scores.summed_of::<10>(),
        11 => scores.summed_of::<11>(),
        12 => scores.summed_of::<12>(),
        _ => scores.summed(),
    }
}

impl Scores<'_> {
    fn summed(&self) -> Vec<f64> {
        let (n_terms, clusters) = (self.arranged.n_terms(), &self.arranged.clusters);
        let mut sums = vec![0.0; clusters.n_clusters * n_terms];
        fill_in_halves(&mut sums, n_terms, |first, half| {
            let own = first..first + half.len() / n_terms;
            let is_own =
                |&position: &usize| own.contains(&(clusters.of_position[position] as usize));
            let positions = (0..self.arranged.len()).filter(is_own);
            self.visit(positions, |position, score| {
                let start = (clusters.of_position[position] as usize - first) * n_terms;
                for (sum, value) in half[start..start + n_terms].iter_mut().zip(score) {
                    *sum += value;
                }
            });
        });
        sums
    }

    fn summed_of<const N: usize>(&self) -> Vec<f64> {
        let clusters = &self.arranged.clusters;
        let mut sums = vec![[0.0; N]; clusters.n_clusters];
        let columns = Columns::<N>::of(self);
        fill_in_halves(&mut sums, 1, |first, half| {
            let own = first..first + half.len();
            // sums lie scattered in memory: additions that wait for nothing else are fetched many at a time
            let mut waiting: Vec<(usize, [f64; N])> = Vec::with_capacity(ROWS_AT_A_TIME);
            let mut add = |waiting: &mut Vec<(usize, [f64; N])>| {
                for (place, score) in waiting.drain(..) {
                    for (sum, value) in half[place].iter_mut().zip(&score) {
                        *sum += value;
                    }
                }
            };
            for (position, &cluster) in clusters.of_position.iter().enumerate() {
                if own.contains(&(cluster as usize)) {
                    waiting.push((cluster as usize - first, self.score_of(&columns, position)));
                    if waiting.len() == ROWS_AT_A_TIME {
                        add(&mut waiting);
                    }
                }
            }
            add(&mut waiting);
        });
        sums.into_flattened()
    }

    /// What [`Scores::visit`] says of one row, to the last digit.
    fn score_of<const N: usize>(&self, columns: &Columns<'_, N>, position: usize) -> [f64; N] {
        let (arranged, hazard) = (self.arranged, &self.hazard);
        let exit = arranged.slots.exit[position] as usize;
        let entry = arranged.slots.entry[position] as usize;
        let is_event = arranged.is_event[position];
        let mut passed = hazard.cumulative[exit] - hazard.cumulative[entry];
        let (at_exit, at_entry) = (&columns.drift[exit], &columns.drift[entry]);
        let mut drift: [f64; N] = std::array::from_fn(|term| at_exit[term] - at_entry[term]);
        if is_event {
            passed -= hazard.event_fade[exit];
            for (value, fade) in drift.iter_mut().zip(&columns.event_drift_fade[exit]) {
                *value -= fade;
            }
        }
        // a row gone before the first event passes through no hazard, however large its risk
        let risk = if passed == 0.0 {
            0.0
        } else {
            self.risk[position]
        };
        let row = &columns.covariates[position];
        let mut score: [f64; N] =
            std::array::from_fn(|term| -risk * (row[term] * passed - drift[term]));
        if is_event {
            let weight = arranged.weight_at(position);
            let means = row.iter().zip(&columns.event_mean[exit]);
            for (cell, (x, mean)) in score.iter_mut().zip(means) {
                *cell += weight * (x - mean);
            }
        }
        score
    }
}

/// Covariates by position and vectors by slot, of a known length.
struct Columns<'a, const N: usize> {
    covariates: &'a [[f64; N]],
    drift: &'a [[f64; N]],
    event_drift_fade: &'a [[f64; N]],
    event_mean: &'a [[f64; N]],
}

impl<'a, const N: usize> Columns<'a, N> {
    fn of(scores: &'a Scores) -> Self {
        let hazard = &scores.hazard;
        Self {
            covariates: scores.arranged.covariates.values.as_chunks().0,
            drift: hazard.drift.as_chunks().0,
            event_drift_fade: hazard.event_drift_fade.as_chunks().0,
            event_mean: hazard.event_mean.as_chunks().0,
        }
    }
}

/// Infinitesimal jackknife covariance of the standardised coefficients; `kept` is of the last step on the way to them, which
/// spares a pass when it is of the same.
pub(crate) fn robust_covariance(
    arranged: &Arranged,
    sharing: Sharing,
    coefficients: &[f64],
    kept: Option<Kept>,
    model: &SquareMatrix,
) -> SquareMatrix {
    let kept = kept.filter(|kept| kept.coefficients == coefficients);
    let scores = match kept {
        Some(kept) => Scores {
            arranged,
            risk: kept.risk,
            hazard: kept.hazard,
        },
        None => Scores::of(arranged, sharing, coefficients),
    };
    model.sandwich(&outer_square(&cluster_scores(&scores), arranged.n_terms()))
}

/// Score test at coefficients 0 with the variance of the score taken from the clusters (Lin and Wei 1989).
pub(crate) fn robust_score_test(
    arranged: &Arranged,
    sharing: Sharing,
    is_redundant: &[bool],
) -> ModelTest {
    let n_terms = arranged.n_terms();
    let sums = cluster_scores(&Scores::of(arranged, sharing, &vec![0.0; n_terms]));
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
