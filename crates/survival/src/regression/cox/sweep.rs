//! One pass over the rows from the last time to the first, growing and shrinking the risk set on the way.

use std::ops::Range;

use crate::halves::fill_in_halves;
use crate::regression::cox::arrange::{Arranged, Part};
use crate::regression::cox::influence::Hazard;
use crate::regression::gram::weighted_products;
use crate::regression::moments::{Moments, Sharing, TieSums};
use crate::regression::{Evaluation, SquareMatrix};

/// The risk set at one event time.
pub(crate) struct RiskSet<'a> {
    /// Place of the event time among the slots.
    pub(crate) slot: usize,
    /// Positions of the rows that leave at this time.
    pub(crate) leaving: Range<usize>,
    pub(crate) n_events: u32,
    pub(crate) event_weight: f64,
    pub(crate) at_risk: &'a Moments,
    /// Sums over the events themselves where there are several; 0 for a single one, which shares its risk set with none.
    pub(crate) tied: &'a Moments,
}

impl RiskSet<'_> {
    pub(crate) fn tie_sums(&self, sharing: Sharing) -> TieSums {
        TieSums::of(
            sharing,
            self.n_events,
            self.event_weight,
            self.at_risk.risk,
            self.tied.risk,
        )
    }

    /// Positions of the rows with the event.
    pub(crate) fn events(&self) -> Range<usize> {
        self.leaving.start..self.leaving.start + self.n_events as usize
    }
}

/// The rule by which rows are at risk at an event time.
pub(crate) trait RiskSets: Sync {
    /// The rows.
    fn arranged(&self) -> &Arranged;

    /// Visits the event times of a part, latest first within each stratum. `risk` is weight times exp(linear predictor), by
    /// position.
    fn visit(&self, risk: &[f64], part: &Part, visit: impl FnMut(&RiskSet));

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

    fn visit(&self, risk: &[f64], part: &Part, visit: impl FnMut(&RiskSet)) {
        visit_risk_sets(self, risk, part, visit);
    }

    fn row_hazards(&self, increments: &Increments) -> Vec<f64> {
        let mut cumulative = increments.plain.clone();
        self.slots.accumulate(&mut cumulative, 1);
        let mut hazards = vec![0.0; self.len()];
        fill_in_halves(&mut hazards, 1, |first, part| {
            let slots = self.slots.exit[first..]
                .iter()
                .zip(&self.slots.entry[first..]);
            let rows = slots.zip(&self.is_event[first..]);
            for (hazard, ((&exit, &entry), &is_event)) in part.iter_mut().zip(rows) {
                let own = if is_event {
                    increments.faded[exit as usize]
                } else {
                    0.0
                };
                *hazard = cumulative[exit as usize] - cumulative[entry as usize] - own;
            }
        });
        hazards
    }
}

/// Once the risk set has lost this factor of its largest total, rounding left by the rows taken away is no longer
/// negligible and the sums are made afresh.
const LARGEST_LOSS: f64 = 1e6;

/// At risk from entry to exit: the risk sets of a hazard at the event times of a part.
fn visit_risk_sets(
    arranged: &Arranged,
    risk: &[f64],
    part: &Part,
    mut visit: impl FnMut(&RiskSet),
) {
    let n_terms = arranged.n_terms();
    let mut at_risk = Moments::zero(n_terms);
    let mut tied = Moments::zero(n_terms);
    for stratum in 0..arranged.n_strata() {
        let whole = arranged.stratum(stratum);
        let begins = whole.start.max(part.positions.start);
        let mut end = whole.end.min(part.positions.end);
        if begins >= end {
            continue;
        }
        let late = arranged.late_entries(stratum);
        let mut n_left = 0;
        at_risk.clear();
        if end < whole.end {
            let step = arranged.exit_step(end - 1);
            n_left = late.partition_point(|&late| arranged.entry_step(late as usize) > step);
            add_at_risk(arranged, risk, end..whole.end, step, &mut at_risk);
        }
        let mut largest = at_risk.risk;
        while end > begins {
            let step = arranged.exit_step(end - 1);
            let begin = arranged.first_with_same_exit(end - 1, begins);
            let leaving = begin..end;
            // events come first among the rows of one time
            let n_events = arranged.is_event[leaving.clone()]
                .iter()
                .filter(|&&is_event| is_event)
                .count();
            let events = begin..begin + n_events;
            tied.clear();
            if n_events > 1 {
                tied.add_rows(
                    &risk[events.clone()],
                    arranged.covariates.rows(events.clone()),
                );
                at_risk.merge(&tied);
            } else if n_events == 1 {
                at_risk.add(risk[begin], arranged.covariates.row(begin));
            }
            at_risk.add_rows(
                &risk[events.end..end],
                arranged.covariates.rows(events.end..end),
            );
            if n_events > 0 {
                largest = largest.max(at_risk.risk);
                let n_left_before = n_left;
                while let Some(&position) = late
                    .get(n_left)
                    .filter(|&&late| arranged.entry_step(late as usize) > step)
                {
                    let position = position as usize;
                    at_risk.add(-risk[position], arranged.covariates.row(position));
                    n_left += 1;
                }
                if n_left > n_left_before && at_risk.risk * LARGEST_LOSS < largest {
                    at_risk.clear();
                    add_at_risk(arranged, risk, begin..whole.end, step, &mut at_risk);
                    largest = at_risk.risk;
                }
                visit(&RiskSet {
                    slot: arranged.slots.exit[begin] as usize,
                    leaving,
                    n_events: n_events as u32,
                    event_weight: events.map(|event| arranged.weight_at(event)).sum(),
                    at_risk: &at_risk,
                    tied: &tied,
                });
            }
            end = begin;
        }
    }
}

/// Adds those of `positions` that are at risk at `step`, which all of them outlast.
fn add_at_risk(
    arranged: &Arranged,
    risk: &[f64],
    positions: Range<usize>,
    step: u32,
    sums: &mut Moments,
) {
    if !arranged.has_late_entry() {
        return sums.add_rows(
            &risk[positions.clone()],
            arranged.covariates.rows(positions),
        );
    }
    for position in positions.filter(|&position| arranged.entry_step(position) <= step) {
        sums.add(risk[position], arranged.covariates.row(position));
    }
}

/// Sum over event times of a factor times the variance of the covariates in the risk set.
///
/// The mean squares are not kept up with the risk set: a row adds its own products times its risk times the hazard it passes
/// through, all rows at once and in one sweep over memory.
pub(crate) struct VarianceSum {
    /// By slot, from that of the part on.
    increments: Increments,
    first_slot: usize,
    mean_products: Vec<f64>,
}

impl VarianceSum {
    pub(crate) fn zero(arranged: &Arranged, part: &Part) -> VarianceSum {
        let n_terms = arranged.n_terms();
        let none = vec![0.0; part.slots.len()];
        VarianceSum {
            increments: Increments {
                plain: none.clone(),
                faded: none,
            },
            first_slot: part.slots.start,
            mean_products: vec![0.0; n_terms * (n_terms + 1) / 2],
        }
    }

    pub(crate) fn add(&mut self, factor: f64, set: &RiskSet, sums: &TieSums) {
        let place = set.slot - self.first_slot;
        self.increments.plain[place] = factor * sums.plain;
        self.increments.faded[place] = factor * sums.faded;
        sums.add_mean_products(factor, set.at_risk, set.tied, &mut self.mean_products);
    }

    /// The sum over both parts.
    pub(crate) fn finish(
        first: VarianceSum,
        second: VarianceSum,
        sets: &impl RiskSets,
        risk: &[f64],
    ) -> SquareMatrix {
        let covariates = &sets.arranged().covariates;
        let mut increments = first.increments;
        increments.plain.extend(second.increments.plain);
        increments.faded.extend(second.increments.faded);
        let mut weights = sets.row_hazards(&increments);
        fill_in_halves(&mut weights, 1, |first, part| {
            for (weight, risk) in part.iter_mut().zip(&risk[first..]) {
                *weight = if *weight == 0.0 { 0.0 } else { *weight * risk };
            }
        });
        let mut packed = weighted_products(&covariates.values, covariates.n_terms, &weights);
        let mean_products = first.mean_products.iter().zip(&second.mean_products);
        for (cell, (own, other)) in packed.iter_mut().zip(mean_products) {
            *cell -= own + other;
        }
        SquareMatrix::from_packed_lower(covariates.n_terms, &packed)
    }
}

/// What one pass over a part gathers.
struct Pass {
    log_sums: f64,
    expected: Vec<f64>,
    information: VarianceSum,
    hazard: Option<Hazard>,
}

/// What a pass met that the variance by cluster needs at the same coefficients.
pub(crate) struct Kept {
    pub(crate) coefficients: Vec<f64>,
    /// Weight times exp(linear predictor), by position.
    pub(crate) risk: Vec<f64>,
    pub(crate) hazard: Hazard,
}

/// Log partial likelihood, score and information (Therneau and Grambsch 2000, Modeling Survival Data, eq. 3.2 to 3.6, for
/// Efron's approximation p. 48 to 50; case weights as section 7.1).
pub(crate) fn partial_likelihood(
    sets: &impl RiskSets,
    sharing: Sharing,
    coefficients: &[f64],
) -> Evaluation {
    partial_likelihood_keeping(sets, sharing, coefficients, false).0
}

/// The same, and what it met when that `is_kept`.
pub(crate) fn partial_likelihood_keeping(
    sets: &impl RiskSets,
    sharing: Sharing,
    coefficients: &[f64],
    is_kept: bool,
) -> (Evaluation, Option<Kept>) {
    let arranged = sets.arranged();
    let n_terms = arranged.n_terms();
    let risk = arranged.risks_at(coefficients);
    let [first, second] = arranged.in_parts(|part| {
        let mut pass = Pass {
            log_sums: 0.0,
            expected: vec![0.0; n_terms],
            information: VarianceSum::zero(arranged, part),
            hazard: is_kept.then(|| Hazard::none(arranged, part)),
        };
        sets.visit(&risk, part, |set| {
            let sums = set.tie_sums(sharing);
            if let Some(hazard) = &mut pass.hazard {
                hazard.note(set, &sums, part.slots.start);
            }
            pass.log_sums += sums.log;
            for (term, expected) in pass.expected.iter_mut().enumerate() {
                *expected += sums.mean_covariate(set.at_risk, set.tied, term);
            }
            pass.information.add(1.0, set, &sums);
        });
        pass
    });
    let observed: f64 = coefficients
        .iter()
        .zip(&arranged.event_sums)
        .map(|(slope, sum)| slope * sum)
        .sum();
    let expected = first.expected.iter().zip(&second.expected);
    let evaluation = Evaluation {
        value: observed - (first.log_sums + second.log_sums),
        gradient: arranged
            .event_sums
            .iter()
            .zip(expected)
            .map(|(observed, (first, second))| observed - (first + second))
            .collect(),
        information: VarianceSum::finish(first.information, second.information, sets, &risk),
        curvature: None,
    };
    let hazard = first.hazard.zip(second.hazard);
    let kept = hazard.map(|(first, second)| Kept {
        coefficients: coefficients.to_vec(),
        risk,
        hazard: Hazard::summed(arranged, [first, second]),
    });
    (evaluation, kept)
}
