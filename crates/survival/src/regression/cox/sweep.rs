//! One pass over the rows from the last time to the first, growing and shrinking the risk set on the way.

use crate::regression::cox::arrange::Arranged;
use crate::regression::gram::weighted_products;
use crate::regression::moments::{Moments, Sharing, TieSums};
use crate::regression::{Evaluation, SquareMatrix};

/// The risk set at one event time.
pub(crate) struct RiskSet<'a> {
    /// Place of the event time among the slots.
    pub(crate) slot: usize,
    /// Positions of the rows that leave at this time.
    pub(crate) leaving: std::ops::Range<usize>,
    pub(crate) n_events: u32,
    pub(crate) event_weight: f64,
    pub(crate) at_risk: &'a Moments,
    /// Sums over the events themselves where there are several; 0 for a single one, which shares its risk set with none.
    pub(crate) tied: &'a Moments,
}

/// The rule by which rows are at risk at an event time.
pub(crate) trait RiskSets {
    /// The rows.
    fn arranged(&self) -> &Arranged;

    /// Visits every event time, latest first within each stratum. `risk` is weight times exp(linear predictor), by position.
    fn visit(&self, risk: &[f64], visit: impl FnMut(&RiskSet));

    /// Hazard each row passes through, by position, from the increments of the event times.
    fn row_hazards(&self, increments: &Increments) -> Vec<f64>;
}

/// Increments of a hazard by slot, 0 in first slots.
#[derive(Debug, Clone)]
pub(crate) struct Increments {
    /// For rows without the event.
    pub(crate) plain: Vec<f64>,
    /// By how much less for rows with the event (Efron's approximation).
    pub(crate) faded: Vec<f64>,
}

impl RiskSets for Arranged {
    fn arranged(&self) -> &Arranged {
        self
    }

    fn visit(&self, risk: &[f64], visit: impl FnMut(&RiskSet)) {
        visit_risk_sets(self, risk, visit);
    }

    fn row_hazards(&self, increments: &Increments) -> Vec<f64> {
        let mut cumulative = increments.plain.clone();
        self.slots.accumulate(&mut cumulative, 1);
        let slots = self.slots.exit.iter().zip(&self.slots.entry);
        slots
            .zip(&self.is_event)
            .map(|((&exit, &entry), &is_event)| {
                let own = if is_event {
                    increments.faded[exit as usize]
                } else {
                    0.0
                };
                cumulative[exit as usize] - cumulative[entry as usize] - own
            })
            .collect()
    }
}

/// Once the risk set has lost this factor of its largest total, rounding left by the rows taken away is no longer
/// negligible and the sums are made afresh.
const LARGEST_LOSS: f64 = 1e6;

/// At risk from entry to exit: the risk sets of a hazard.
fn visit_risk_sets(arranged: &Arranged, risk: &[f64], mut visit: impl FnMut(&RiskSet)) {
    let n_terms = arranged.n_terms();
    let mut at_risk = Moments::zero(n_terms);
    let mut tied = Moments::zero(n_terms);
    for stratum in 0..arranged.n_strata() {
        let positions = arranged.stratum(stratum);
        let late = arranged.late_entries(stratum);
        let mut n_left = 0;
        let mut largest = 0.0_f64;
        at_risk.clear();
        let mut end = positions.end;
        while end > positions.start {
            let step = arranged.exit_step(end - 1);
            let begin = arranged.first_with_same_exit(end - 1, positions.start);
            let leaving = begin..end;
            at_risk.add_rows(
                &risk[leaving.clone()],
                arranged.covariates.rows(leaving.clone()),
            );
            let n_events = leaving
                .clone()
                .filter(|&position| arranged.is_event[position])
                .count() as u32;
            let mut event_weight = 0.0;
            tied.clear();
            for position in leaving
                .clone()
                .filter(|&position| arranged.is_event[position])
            {
                event_weight += arranged.weight_at(position);
                if n_events > 1 {
                    tied.add(risk[position], arranged.covariates.row(position));
                }
            }
            if n_events > 0 {
                largest = largest.max(at_risk.risk);
                let n_left_before = n_left;
                while late
                    .get(n_left)
                    .is_some_and(|&position| arranged.entry_step(position as usize) > step)
                {
                    let position = late[n_left] as usize;
                    at_risk.add(-risk[position], arranged.covariates.row(position));
                    n_left += 1;
                }
                if n_left > n_left_before && at_risk.risk * LARGEST_LOSS < largest {
                    at_risk.clear();
                    for position in (begin..positions.end)
                        .filter(|&position| arranged.entry_step(position) <= step)
                    {
                        at_risk.add(risk[position], arranged.covariates.row(position));
                    }
                    largest = at_risk.risk;
                }
                visit(&RiskSet {
                    slot: arranged.slots.exit[begin] as usize,
                    leaving,
                    n_events,
                    event_weight,
                    at_risk: &at_risk,
                    tied: &tied,
                });
            }
            end = begin;
        }
    }
}

/// Sum over event times of a factor times the variance of the covariates in the risk set.
///
/// The mean squares are not kept up with the risk set: a row adds its own products times its risk times the hazard it passes
/// through, all rows at once and in one sweep over memory.
pub(crate) struct VarianceSum {
    increments: Increments,
    mean_products: Vec<f64>,
}

impl VarianceSum {
    pub(crate) fn zero(arranged: &Arranged) -> VarianceSum {
        let n_terms = arranged.n_terms();
        let none = vec![0.0; arranged.slots.len()];
        VarianceSum {
            increments: Increments {
                plain: none.clone(),
                faded: none,
            },
            mean_products: vec![0.0; n_terms * (n_terms + 1) / 2],
        }
    }

    pub(crate) fn add(&mut self, factor: f64, set: &RiskSet, sums: &TieSums) {
        self.increments.plain[set.slot] = factor * sums.plain;
        self.increments.faded[set.slot] = factor * sums.faded;
        sums.add_mean_products(factor, set.at_risk, set.tied, &mut self.mean_products);
    }

    pub(crate) fn finish(self, sets: &impl RiskSets, risk: &[f64]) -> SquareMatrix {
        let covariates = &sets.arranged().covariates;
        let mut weights = sets.row_hazards(&self.increments);
        for (weight, risk) in weights.iter_mut().zip(risk) {
            *weight = if *weight == 0.0 { 0.0 } else { *weight * risk };
        }
        let mut packed = weighted_products(&covariates.values, covariates.n_terms, &weights);
        for (cell, mean_product) in packed.iter_mut().zip(&self.mean_products) {
            *cell -= mean_product;
        }
        SquareMatrix::from_packed_lower(covariates.n_terms, &packed)
    }
}

/// Log partial likelihood, score and information (Therneau and Grambsch 2000, Modeling Survival Data, eq. 3.2 to 3.6, for
/// Efron's approximation p. 48 to 50; case weights as section 7.1).
pub(crate) fn partial_likelihood(
    sets: &impl RiskSets,
    sharing: Sharing,
    coefficients: &[f64],
) -> Evaluation {
    let arranged = sets.arranged();
    let n_terms = arranged.n_terms();
    let predictors = arranged.linear_predictors(coefficients);
    let risk = arranged.risks(&predictors);
    let mut value = 0.0;
    let mut gradient = vec![0.0; n_terms];
    let mut information = VarianceSum::zero(arranged);
    sets.visit(&risk, |set| {
        let sums = TieSums::of(
            sharing,
            set.n_events,
            set.event_weight,
            set.at_risk.risk,
            set.tied.risk,
        );
        for position in set
            .leaving
            .clone()
            .filter(|&position| arranged.is_event[position])
        {
            let weight = arranged.weight_at(position);
            value += weight * predictors[position];
            for (slope, x) in gradient.iter_mut().zip(arranged.covariates.row(position)) {
                *slope += weight * x;
            }
        }
        value -= sums.log;
        for (term, slope) in gradient.iter_mut().enumerate() {
            *slope -= sums.mean_covariate(set.at_risk, set.tied, term);
        }
        information.add(1.0, set, &sums);
    });
    Evaluation {
        value,
        gradient,
        information: information.finish(sets, &risk),
    }
}
