//! The log likelihood of a logistic model, plain or with Firth's penalty.

use crate::regression::logistic::Penalty;
use crate::regression::{BinaryOutcomes, Cholesky, Evaluation, SquareMatrix, Standardised};

/// Rows of positive weight, ready for the passes. The first parameter is the intercept at the centre of the covariates.
pub(crate) struct Rows<'a> {
    pub(crate) outcomes: &'a BinaryOutcomes,
    pub(crate) order: &'a [u32],
    pub(crate) covariates: &'a Standardised,
    /// Outcome, weight and what is added to the linear predictor, by position.
    pub(crate) known: &'a [Known],
    pub(crate) offset: Option<&'a [f64]>,
    pub(crate) penalty: Penalty,
}

/// What is known of a row besides its covariates.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Known {
    has_outcome: bool,
    weight: f64,
    offset: f64,
}

impl Known {
    /// By position; `offset` is by input row.
    pub(crate) fn of(
        outcomes: &BinaryOutcomes,
        order: &[u32],
        offset: Option<&[f64]>,
    ) -> Vec<Known> {
        let rows = order.iter().map(|&row| row as usize);
        rows.map(|row| Known {
            has_outcome: outcomes.has_outcome()[row],
            weight: outcomes.weight_of(row),
            offset: offset.map_or(0.0, |offset| offset[row]),
        })
        .collect()
    }
}

/// 1/(1 + e^-x).
pub(crate) fn inverse_logit(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        x.exp() / (1.0 + x.exp())
    }
}

/// What depends on the linear predictor alone.
#[derive(Debug, Clone, Copy)]
struct Logit {
    predictor: f64,
    /// 1/(1 + e^-x).
    probability: f64,
    /// ln(1 + e^x).
    log_one_plus_exp: f64,
}

impl Logit {
    fn of(predictor: f64) -> Self {
        let small = (-predictor.abs()).exp();
        let above = if predictor >= 0.0 { 1.0 } else { small };
        Self {
            predictor,
            probability: above / (1.0 + small),
            log_one_plus_exp: predictor.max(0.0) + small.ln_1p(),
        }
    }
}

/// Logits met of late: where covariates are answers of yes or no, millions of rows have a few predictors.
struct Met([Logit; Self::N]);

impl Met {
    const N: usize = 64;

    fn none() -> Self {
        Self([Logit::of(0.0); Self::N])
    }

    /// That of a predictor, the same to the last digit whether it was met before or not.
    fn of(&mut self, predictor: f64) -> Logit {
        let bits = predictor.to_bits();
        // a multiplicative hash (64-bit golden ratio); its highest six bits are a place
        let place = (bits.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 58) as usize % Self::N;
        let kept = &mut self.0[place];
        if kept.predictor.to_bits() != bits {
            *kept = Logit::of(predictor);
        }
        *kept
    }
}

/// One row at given parameters.
struct At<'r> {
    position: usize,
    /// 1 and the standardised covariates.
    design: &'r [f64],
    weight: f64,
    has_outcome: bool,
    predictor: f64,
    probability: f64,
    log_one_plus_exp: f64,
}

impl Rows<'_> {
    pub(crate) fn n_parameters(&self) -> usize {
        1 + self.covariates.n_terms
    }

    pub(crate) fn predictor(&self, position: usize, parameters: &[f64]) -> f64 {
        self.known[position].offset
            + parameters[0]
            + self
                .covariates
                .row(position)
                .iter()
                .zip(&parameters[1..])
                .map(|(x, slope)| x * slope)
                .sum::<f64>()
    }

    fn visit(&self, parameters: &[f64], mut visit: impl FnMut(&At)) {
        let mut design = vec![1.0; self.n_parameters()];
        let mut met = Met::none();
        for (position, known) in self.known.iter().enumerate() {
            design[1..].copy_from_slice(self.covariates.row(position));
            let logit = met.of(self.predictor(position, parameters));
            visit(&At {
                position,
                design: &design,
                weight: known.weight,
                has_outcome: known.has_outcome,
                predictor: logit.predictor,
                probability: logit.probability,
                log_one_plus_exp: logit.log_one_plus_exp,
            });
        }
    }

    pub(crate) fn evaluate(&self, parameters: &[f64]) -> Evaluation {
        let n_parameters = self.n_parameters();
        let mut value = 0.0;
        let mut gradient = vec![0.0; n_parameters];
        let mut packed = vec![0.0; n_parameters * (n_parameters + 1) / 2];
        self.visit(parameters, |at| {
            value +=
                at.weight * (if at.has_outcome { at.predictor } else { 0.0 } - at.log_one_plus_exp);
            let surprise = at.weight * (f64::from(u8::from(at.has_outcome)) - at.probability);
            let information = at.weight * at.probability * (1.0 - at.probability);
            let mut cell = 0;
            for (row, x) in at.design.iter().enumerate() {
                gradient[row] += surprise * x;
                for y in &at.design[..=row] {
                    packed[cell] += information * x * y;
                    cell += 1;
                }
            }
        });
        let information = SquareMatrix::from_packed_lower(n_parameters, &packed);
        let curvature = (self.penalty == Penalty::Firth).then(|| {
            let factor = Cholesky::of(&information, 1e-11, &[]);
            value += 0.5 * factor.log_determinant();
            self.penalise(parameters, &factor.inverse(), &mut gradient, &mut packed);
            SquareMatrix::from_packed_lower(n_parameters, &packed)
        });
        Evaluation {
            value,
            gradient,
            information,
            curvature,
        }
    }

    /// Adds to the gradient that of Firth's penalty, and to the information what makes steps of the right length.
    ///
    /// The penalty acts as leverage h more rows of outcome 1/2 would (Heinze and Schemper 2002, section 2), whose information is
    /// h p (1 - p). Where rows weigh little it outweighs that of the rows, and steps of theirs alone would overshoot for ever.
    fn penalise(
        &self,
        parameters: &[f64],
        inverse: &SquareMatrix,
        gradient: &mut [f64],
        packed: &mut [f64],
    ) {
        self.visit(parameters, |at| {
            let spread = at.probability * (1.0 - at.probability);
            let leverage = at.weight * spread * inverse.quadratic_form(at.design);
            let mut cells = packed.iter_mut();
            for (row, (slope, x)) in gradient.iter_mut().zip(at.design).enumerate() {
                *slope += leverage * (0.5 - at.probability) * x;
                for (y, cell) in at.design.iter().take(row + 1).zip(cells.by_ref()) {
                    *cell += leverage * spread * x * y;
                }
            }
        });
    }

    /// Slope of each row's log likelihood in the parameters times its weight, by position.
    pub(crate) fn weighted_scores(&self, parameters: &[f64]) -> Vec<f64> {
        let n_parameters = self.n_parameters();
        let mut scores = vec![0.0; self.order.len() * n_parameters];
        self.visit(parameters, |at| {
            let surprise = at.weight * (f64::from(u8::from(at.has_outcome)) - at.probability);
            for (cell, x) in scores[at.position * n_parameters..]
                .iter_mut()
                .zip(at.design)
            {
                *cell = surprise * x;
            }
        });
        scores
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_predictor_met_before_gives_the_same_digits() {
        let mut met = Met::none();
        // more predictors than there are places, each asked for twice in a row and again much later
        let predictors: Vec<f64> = (-500..500).map(|step| f64::from(step) * 0.1).collect();
        for _ in 0..2 {
            for x in &predictors {
                for _ in 0..2 {
                    let logit = met.of(*x);
                    assert_eq!(logit.predictor.to_bits(), x.to_bits());
                    assert_eq!(logit.probability.to_bits(), inverse_logit(*x).to_bits());
                    let plain = if *x > 0.0 {
                        x + (-x).exp().ln_1p()
                    } else {
                        x.exp().ln_1p()
                    };
                    assert_eq!(logit.log_one_plus_exp.to_bits(), plain.to_bits());
                }
            }
        }
    }
}
