//! One pass over the rows from the last time to the first, growing and shrinking the risk set on the way.

use crate::regression::cox::arrange::Arranged;
use crate::regression::moments::{Moments, Sharing, TieSums};
use crate::regression::{Evaluation, SquareMatrix};

/// The risk set at one event time.
pub(crate) struct RiskSet<'a> {
    pub(crate) stratum: usize,
    pub(crate) step: u32,
    /// Positions of the rows that leave at this time.
    pub(crate) leaving: std::ops::Range<usize>,
    pub(crate) n_events: u32,
    pub(crate) event_weight: f64,
    pub(crate) at_risk: &'a Moments,
    pub(crate) tied: &'a Moments,
}

/// How much of each row a pass has to add up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Depth {
    /// Risks and first moments.
    First,
    /// Second moments too, for the information matrix.
    Second,
}

/// The rule by which rows are at risk at an event time.
pub(crate) trait RiskSets {
    /// The rows.
    fn arranged(&self) -> &Arranged;

    /// Visits every event time, latest first within each stratum. `risk` is weight times exp(linear predictor), by position.
    fn visit(&self, risk: &[f64], depth: Depth, visit: impl FnMut(&RiskSet));
}

impl RiskSets for Arranged {
    fn arranged(&self) -> &Arranged {
        self
    }

    fn visit(&self, risk: &[f64], depth: Depth, visit: impl FnMut(&RiskSet)) {
        visit_risk_sets(self, risk, depth, visit);
    }
}

/// Once the risk set has lost this factor of its largest total, rounding left by the rows taken away is no longer
/// negligible and the sums are made afresh.
const LARGEST_LOSS: f64 = 1e6;

/// At risk from entry to exit: the risk sets of a hazard.
fn visit_risk_sets(
    arranged: &Arranged,
    risk: &[f64],
    depth: Depth,
    mut visit: impl FnMut(&RiskSet),
) {
    let n_terms = arranged.n_terms();
    let mut at_risk = Moments::zero(n_terms);
    let mut tied = Moments::zero(n_terms);
    let add = |moments: &mut Moments, risk: f64, position: usize| match depth {
        Depth::First => moments.add_first(risk, arranged.covariates.row(position)),
        Depth::Second => moments.add(risk, arranged.covariates.row(position)),
    };
    for stratum in 0..arranged.n_strata() {
        let positions = arranged.stratum(stratum);
        let late = arranged.late_entries(stratum);
        let mut n_left = 0;
        let mut largest = 0.0_f64;
        at_risk.clear();
        let mut end = positions.end;
        while end > positions.start {
            let step = arranged.exit_step(end - 1);
            let mut begin = end;
            let mut n_events = 0;
            let mut event_weight = 0.0;
            while begin > positions.start && arranged.exit_step(begin - 1) == step {
                begin -= 1;
                add(&mut at_risk, risk[begin], begin);
                if arranged.is_event[begin] {
                    if n_events == 0 {
                        tied.clear();
                    }
                    n_events += 1;
                    event_weight += arranged.weight_at(begin);
                    add(&mut tied, risk[begin], begin);
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
                    add(&mut at_risk, -risk[position], position);
                    n_left += 1;
                }
                if n_left > n_left_before && at_risk.risk * LARGEST_LOSS < largest {
                    at_risk.clear();
                    for position in (begin..positions.end)
                        .filter(|&position| arranged.entry_step(position) <= step)
                    {
                        add(&mut at_risk, risk[position], position);
                    }
                    largest = at_risk.risk;
                }
                visit(&RiskSet {
                    stratum,
                    step,
                    leaving: begin..end,
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
    let mut packed = vec![0.0; n_terms * (n_terms + 1) / 2];
    sets.visit(&risk, Depth::Second, |set| {
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
        sums.add_variance(1.0, set.at_risk, set.tied, &mut packed);
    });
    Evaluation {
        value,
        gradient,
        information: SquareMatrix::from_packed_lower(n_terms, &packed),
    }
}
