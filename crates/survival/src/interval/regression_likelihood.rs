//! The log likelihood of an accelerated failure time model in the parameters in which it is concave.
//!
//! With `z = a ln t - d'x`, where a = 1/scale and d = b/scale, the likelihood is concave in (d, a) for any law with a
//! log-concave density and any censoring (Burridge, Biometrika 1981;68:823-826), so Newton's method always arrives.

use crate::interval::IntervalSample;
use crate::interval::error_law::Distribution;
use crate::regression::{Evaluation, SquareMatrix, Standardised};

/// Rows that say something of the time, ready for the passes.
pub(crate) struct Rows<'a> {
    pub(crate) sample: &'a IntervalSample,
    pub(crate) order: &'a [u32],
    pub(crate) covariates: &'a Standardised,
    pub(crate) distribution: Distribution,
}

/// What one row adds: value, slopes in its lower and upper z, and second derivatives.
#[derive(Debug, Clone, Copy, Default)]
struct Part {
    value: f64,
    low: f64,
    high: f64,
    low_low: f64,
    low_high: f64,
    high_high: f64,
    /// Number of times the row adds ln a.
    n_exact: f64,
}

impl Rows<'_> {
    /// Intercept, one for each term, and 1/scale where it is free.
    pub(crate) fn n_parameters(&self) -> usize {
        1 + self.covariates.n_terms + usize::from(self.distribution.has_scale())
    }

    fn part(&self, row: usize, inverse_scale: f64, shift: f64) -> Part {
        let law = self.distribution;
        let (lower, upper) = (self.sample.lower()[row], self.sample.upper()[row]);
        let z = |time: f64| inverse_scale * time.ln() - shift;
        if lower == upper {
            let at = z(lower);
            return Part {
                value: law.log_density(at) + inverse_scale.ln() - lower.ln(),
                low: law.log_density_slope(at),
                low_low: law.log_density_curvature(at),
                n_exact: 1.0,
                ..Part::default()
            };
        }
        let low = (lower > 0.0).then(|| z(lower));
        let high = upper.is_finite().then(|| z(upper));
        let value = match (low, high) {
            (Some(low), Some(high)) => law.log_between(low, high),
            (Some(low), None) => law.log_above(low),
            (None, Some(high)) => law.log_below(high),
            (None, None) => 0.0,
        };
        // density over probability; 0 for an end that is not there
        let share = |z: Option<f64>| z.map_or(0.0, |z| (law.log_density(z) - value).exp());
        let slope = |z: Option<f64>| z.map_or(0.0, |z| law.log_density_slope(z));
        let (at_low, at_high) = (share(low), share(high));
        let times = |share: f64, slope: f64| if share == 0.0 { 0.0 } else { share * slope };
        Part {
            value,
            low: -at_low,
            high: at_high,
            low_low: -times(at_low, slope(low)) - at_low * at_low,
            low_high: at_low * at_high,
            high_high: times(at_high, slope(high)) - at_high * at_high,
            n_exact: 0.0,
        }
    }

    fn split<'p>(&self, parameters: &'p [f64]) -> (&'p [f64], f64) {
        let n_shift = 1 + self.covariates.n_terms;
        (
            &parameters[..n_shift],
            parameters.get(n_shift).copied().unwrap_or(1.0),
        )
    }

    /// Visits every row with its part and the derivatives of its lower and upper z in the parameters.
    fn visit(&self, parameters: &[f64], mut visit: impl FnMut(usize, &Part, &[f64], &[f64])) {
        let (shifts, inverse_scale) = self.split(parameters);
        let n_parameters = self.n_parameters();
        let mut low = vec![0.0; n_parameters];
        let mut high = vec![0.0; n_parameters];
        for (position, &row) in self.order.iter().enumerate() {
            let row = row as usize;
            let x = self.covariates.row(position);
            let shift = shifts[0]
                + x.iter()
                    .zip(&shifts[1..])
                    .map(|(x, shift)| x * shift)
                    .sum::<f64>();
            low[0] = -1.0;
            high[0] = -1.0;
            for (term, value) in x.iter().enumerate() {
                low[term + 1] = -value;
                high[term + 1] = -value;
            }
            if self.distribution.has_scale() {
                let (lower, upper) = (self.sample.lower()[row], self.sample.upper()[row]);
                low[n_parameters - 1] = if lower > 0.0 { lower.ln() } else { 0.0 };
                high[n_parameters - 1] = if upper.is_finite() { upper.ln() } else { 0.0 };
            }
            visit(position, &self.part(row, inverse_scale, shift), &low, &high);
        }
    }

    pub(crate) fn evaluate(&self, parameters: &[f64]) -> Evaluation {
        let n_parameters = self.n_parameters();
        let (_, inverse_scale) = self.split(parameters);
        let mut evaluation = Evaluation {
            value: 0.0,
            gradient: vec![0.0; n_parameters],
            information: SquareMatrix::zero(n_parameters),
        };
        if inverse_scale <= 0.0 {
            evaluation.value = f64::NEG_INFINITY;
            return evaluation;
        }
        let mut exact_weight = 0.0;
        self.visit(parameters, |position, part, low, high| {
            let weight = self.sample.weight_of(self.order[position] as usize);
            evaluation.value += weight * part.value;
            exact_weight += weight * part.n_exact;
            for row in 0..n_parameters {
                evaluation.gradient[row] += weight * (part.low * low[row] + part.high * high[row]);
                let to_low = part.low_low * low[row] + part.low_high * high[row];
                let to_high = part.low_high * low[row] + part.high_high * high[row];
                for column in 0..n_parameters {
                    evaluation.information.add(
                        row,
                        column,
                        -weight * (to_low * low[column] + to_high * high[column]),
                    );
                }
            }
        });
        if self.distribution.has_scale() {
            let last = n_parameters - 1;
            evaluation.gradient[last] += exact_weight / inverse_scale;
            evaluation
                .information
                .add(last, last, exact_weight / (inverse_scale * inverse_scale));
        }
        evaluation
    }

    /// Slope of each row in the parameters times its weight, by position.
    pub(crate) fn weighted_scores(&self, parameters: &[f64]) -> Vec<f64> {
        let n_parameters = self.n_parameters();
        let (_, inverse_scale) = self.split(parameters);
        let mut scores = vec![0.0; self.order.len() * n_parameters];
        self.visit(parameters, |position, part, low, high| {
            let weight = self.sample.weight_of(self.order[position] as usize);
            let own = &mut scores[position * n_parameters..(position + 1) * n_parameters];
            for (place, cell) in own.iter_mut().enumerate() {
                *cell = weight * (part.low * low[place] + part.high * high[place]);
            }
            if let Some(last) = own.last_mut().filter(|_| self.distribution.has_scale()) {
                *last += weight * part.n_exact / inverse_scale;
            }
        });
        scores
    }
}
