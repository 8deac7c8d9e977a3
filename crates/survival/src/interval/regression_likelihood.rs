//! The log likelihood of an accelerated failure time model in the parameters in which it is concave.
//!
//! With `z = a ln t - d'x`, where a = 1/scale and d = b/scale, the likelihood is concave in (d, a) for any law with a
//! log-concave density and any censoring (Burridge, Biometrika 1981;68:823-826), so Newton's method always arrives.

use crate::halves::in_halves;
use crate::interval::IntervalSample;
use crate::interval::error_law::{Distribution, Part};
use crate::regression::gram::weighted_products;
use crate::regression::{Evaluation, SquareMatrix, Standardised};
use std::ops::Range;

/// Rows that say something of the time, ready for the passes.
pub(crate) struct Rows<'a> {
    pub(crate) sample: &'a IntervalSample,
    pub(crate) order: &'a [u32],
    pub(crate) covariates: &'a Standardised,
    pub(crate) distribution: Distribution,
    /// Ends by position.
    pub(crate) ends: &'a [LogEnds],
}

/// Logarithms of the ends of a row.
#[derive(Debug, Clone, Copy)]
pub(crate) enum LogEnds {
    /// The time is known.
    Exact(f64),
    /// At or before the upper end.
    Below(f64),
    /// After the lower end.
    Above(f64),
    /// After the lower end, at or before the upper.
    Between(f64, f64),
}

impl LogEnds {
    /// The ends of the rows in `order`, each of which says something.
    pub(crate) fn of(sample: &IntervalSample, order: &[u32]) -> Vec<Self> {
        let of_row = |&row: &u32| {
            let (lower, upper) = (sample.lower()[row as usize], sample.upper()[row as usize]);
            if lower == upper {
                Self::Exact(lower.ln())
            } else if lower <= 0.0 {
                Self::Below(upper.ln())
            } else if upper.is_infinite() {
                Self::Above(lower.ln())
            } else {
                Self::Between(lower.ln(), upper.ln())
            }
        };
        order.iter().map(of_row).collect()
    }

    /// The ends that are there.
    pub(crate) fn known(self) -> impl Iterator<Item = f64> {
        let (first, second) = match self {
            Self::Exact(end) => (Some(end), Some(end)),
            Self::Below(end) | Self::Above(end) => (Some(end), None),
            Self::Between(lower, upper) => (Some(lower), Some(upper)),
        };
        first.into_iter().chain(second)
    }

    /// Logarithms to derive by the inverse scale: 0 for an end that is not there.
    fn or_0(self) -> (f64, f64) {
        match self {
            Self::Exact(end) => (end, end),
            Self::Below(upper) => (0.0, upper),
            Self::Above(lower) => (lower, 0.0),
            Self::Between(lower, upper) => (lower, upper),
        }
    }

    fn part(self, law: Distribution, inverse_scale: f64, shift: f64) -> Part {
        let z = |log_time: f64| inverse_scale * log_time - shift;
        match self {
            Self::Exact(end) => law.exactly(z(end)),
            Self::Below(upper) => law.below(z(upper)),
            Self::Above(lower) => law.above(z(lower)),
            Self::Between(lower, upper) => law.between(z(lower), z(upper)),
        }
    }
}

/// What one row adds to the derivatives, before the covariates come in: a shift moves both its ends alike.
struct Slopes {
    /// Slope in the shift, and in the inverse scale but for the ln a of an exact time.
    shift: f64,
    scale: f64,
    /// Information in the shift, between shift and inverse scale, and in the inverse scale.
    shift_shift: f64,
    shift_scale: f64,
    scale_scale: f64,
}

impl Slopes {
    fn new(part: &Part, (lower, upper): (f64, f64)) -> Self {
        let (to_low, to_high) = (part.low_low + part.low_high, part.low_high + part.high_high);
        Self {
            shift: -(part.low + part.high),
            scale: part.low * lower + part.high * upper,
            shift_shift: -(to_low + to_high),
            shift_scale: to_low * lower + to_high * upper,
            scale_scale: -(part.low_low * lower * lower
                + 2.0 * part.low_high * lower * upper
                + part.high_high * upper * upper),
        }
    }
}

/// Rows whose weights are held at a time.
const BLOCK: usize = 4096;

/// Sums over rows, with the products of covariates packed by lower triangle.
struct Sums {
    value: f64,
    exact_weight: f64,
    /// Intercept, then terms.
    slopes: Vec<f64>,
    of_scale: f64,
    /// Intercept with itself, then with the terms.
    with_intercept: Vec<f64>,
    products: Vec<f64>,
    /// Inverse scale with the intercept, then with the terms, then with itself.
    with_scale: Vec<f64>,
    scale_scale: f64,
}

impl Sums {
    fn new(n_terms: usize) -> Self {
        Self {
            value: 0.0,
            exact_weight: 0.0,
            slopes: vec![0.0; n_terms + 1],
            of_scale: 0.0,
            with_intercept: vec![0.0; n_terms + 1],
            products: vec![0.0; n_terms * (n_terms + 1) / 2],
            with_scale: vec![0.0; n_terms + 1],
            scale_scale: 0.0,
        }
    }

    fn add(&mut self, other: &Self) {
        let add = |sums: &mut [f64], more: &[f64]| {
            for (sum, more) in sums.iter_mut().zip(more) {
                *sum += more;
            }
        };
        self.value += other.value;
        self.exact_weight += other.exact_weight;
        self.of_scale += other.of_scale;
        self.scale_scale += other.scale_scale;
        add(&mut self.slopes, &other.slopes);
        add(&mut self.with_intercept, &other.with_intercept);
        add(&mut self.products, &other.products);
        add(&mut self.with_scale, &other.with_scale);
    }
}

impl Rows<'_> {
    /// Intercept, one for each term, and 1/scale where it is free.
    pub(crate) fn n_parameters(&self) -> usize {
        1 + self.covariates.n_terms + usize::from(self.distribution.has_scale())
    }

    fn split<'p>(&self, parameters: &'p [f64]) -> (&'p [f64], f64) {
        let n_shift = 1 + self.covariates.n_terms;
        (
            &parameters[..n_shift],
            parameters.get(n_shift).copied().unwrap_or(1.0),
        )
    }

    /// What the row at a position adds.
    fn part(&self, position: usize, shifts: &[f64], inverse_scale: f64) -> Part {
        let x = self.covariates.row(position).iter();
        let shift = shifts[0] + x.zip(&shifts[1..]).map(|(x, shift)| x * shift).sum::<f64>();
        self.ends[position].part(self.distribution, inverse_scale, shift)
    }

    fn sums(&self, positions: Range<usize>, shifts: &[f64], inverse_scale: f64) -> Sums {
        let n_terms = self.covariates.n_terms;
        let mut sums = Sums::new(n_terms);
        let mut curvatures = Vec::with_capacity(BLOCK.min(positions.len()));
        let mut start = positions.start;
        while start < positions.end {
            let block = start..(start + BLOCK).min(positions.end);
            curvatures.clear();
            for position in block.clone() {
                let weight = self.sample.weight_of(self.order[position] as usize);
                let part = self.part(position, shifts, inverse_scale);
                let slopes = Slopes::new(&part, self.ends[position].or_0());
                sums.value += weight * part.value;
                sums.exact_weight += weight * part.n_exact;
                sums.of_scale += weight * slopes.scale;
                sums.scale_scale += weight * slopes.scale_scale;
                let of_row = [
                    weight * slopes.shift,
                    weight * slopes.shift_shift,
                    weight * slopes.shift_scale,
                ];
                let mut own = [
                    &mut sums.slopes,
                    &mut sums.with_intercept,
                    &mut sums.with_scale,
                ];
                for (sums, amount) in own.iter_mut().zip(of_row) {
                    sums[0] += amount;
                }
                let x = self.covariates.row(position);
                for (sums, amount) in own.iter_mut().zip(of_row) {
                    for (sum, x) in sums[1..].iter_mut().zip(x) {
                        *sum += amount * x;
                    }
                }
                curvatures.push(weight * slopes.shift_shift);
            }
            let products = weighted_products(self.covariates.rows(block), n_terms, &curvatures);
            for (sum, product) in sums.products.iter_mut().zip(&products) {
                *sum += product;
            }
            start += BLOCK;
        }
        sums
    }

    pub(crate) fn evaluate(&self, parameters: &[f64]) -> Evaluation {
        let n_parameters = self.n_parameters();
        let n_terms = self.covariates.n_terms;
        let (shifts, inverse_scale) = self.split(parameters);
        let mut information = SquareMatrix::zero(n_parameters);
        if inverse_scale <= 0.0 {
            return Evaluation {
                value: f64::NEG_INFINITY,
                gradient: vec![0.0; n_parameters],
                information,
                curvature: None,
            };
        }
        let [mut sums, others] = in_halves(self.order.len(), |positions| {
            self.sums(positions, shifts, inverse_scale)
        });
        sums.add(&others);
        let mut set = |row: usize, column: usize, value: f64| {
            information.set(row, column, value);
            information.set(column, row, value);
        };
        for (term, &value) in sums.with_intercept.iter().enumerate() {
            set(0, term, value);
        }
        let products = SquareMatrix::from_packed_lower(n_terms, &sums.products);
        for row in 0..n_terms {
            for column in 0..=row {
                set(row + 1, column + 1, products.get(row, column));
            }
        }
        let mut value = sums.value;
        let mut gradient = sums.slopes;
        if self.distribution.has_scale() {
            for (term, &value) in sums.with_scale.iter().enumerate() {
                set(n_terms + 1, term, value);
            }
            let of_exact = sums.exact_weight / inverse_scale;
            set(
                n_terms + 1,
                n_terms + 1,
                sums.scale_scale + of_exact / inverse_scale,
            );
            gradient.push(sums.of_scale + of_exact);
            value += sums.exact_weight * inverse_scale.ln();
        }
        Evaluation {
            value: value - self.log_times_of_exact(),
            gradient,
            information,
            curvature: None,
        }
    }

    /// Weighted sum of the log times that are known exactly: the likelihood is that of the time, not of its logarithm.
    fn log_times_of_exact(&self) -> f64 {
        let of_row = |(&row, ends): (&u32, &LogEnds)| match ends {
            LogEnds::Exact(end) => self.sample.weight_of(row as usize) * end,
            _ => 0.0,
        };
        self.order.iter().zip(self.ends).map(of_row).sum()
    }

    /// Slope of each row in the parameters times its weight, by position.
    pub(crate) fn weighted_scores(&self, parameters: &[f64]) -> Vec<f64> {
        let (shifts, inverse_scale) = self.split(parameters);
        let mut scores = Vec::with_capacity(self.order.len() * self.n_parameters());
        for (position, &row) in self.order.iter().enumerate() {
            let weight = self.sample.weight_of(row as usize);
            let part = self.part(position, shifts, inverse_scale);
            let slopes = Slopes::new(&part, self.ends[position].or_0());
            let of_shift = weight * slopes.shift;
            scores.push(of_shift);
            scores.extend(self.covariates.row(position).iter().map(|x| of_shift * x));
            if self.distribution.has_scale() {
                scores.push(weight * (slopes.scale + part.n_exact / inverse_scale));
            }
        }
        scores
    }
}
