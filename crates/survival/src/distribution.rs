//! Probabilities and quantiles of the distributions the crate needs; the one place that knows `statrs`.
//!
//! Every function answers `None` for arguments outside its range instead of panicking. Both tails are computed
//! directly, so that a probability of 1e-30 in the upper tail keeps its digits. Quantiles are found by bisection on
//! these probabilities, not taken from the library: the library's own quantiles lose all digits below about 1e-6.
//! Largest parameter accepted: 1e10 (beyond it the series no longer move).

use crate::SurvivalError;
use statrs::function::{beta::ln_beta, erf, gamma};

/// Which side of a point a probability counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tail {
    /// At or below the point.
    Lower,
    /// Above the point.
    Upper,
}

impl Tail {
    fn other(self) -> Self {
        match self {
            Tail::Lower => Tail::Upper,
            Tail::Upper => Tail::Lower,
        }
    }
}

const LARGEST_PARAMETER: f64 = 1e10;

fn is_parameter(value: f64) -> bool {
    value > 0.0 && value <= LARGEST_PARAMETER
}

fn is_probability(value: f64) -> bool {
    (0.0..=1.0).contains(&value)
}

/// Probability that a standard normal variable lies at or below (`Lower`) or above (`Upper`) `x`.
///
/// From the incomplete gamma function, whose digits are better than those of the library's error function.
pub fn normal_probability(x: f64, tail: Tail) -> f64 {
    if x.is_nan() {
        return f64::NAN;
    }
    let outer = 0.5 * gamma_probability(x * x / 2.0, Tail::Upper, 0.5).unwrap_or(0.0);
    let is_outer = (x > 0.0) == (tail == Tail::Upper);
    if is_outer { outer } else { 1.0 - outer }
}

/// Standard normal quantile: the point with `probability` below it. `None` outside (0, 1).
pub fn normal_quantile(probability: f64) -> Option<f64> {
    if !(probability > 0.0 && probability < 1.0) {
        return None;
    }
    let mut x = -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * probability);
    for _ in 0..2 {
        // Newton steps on the nearer tail take the last digits
        let excess = if x < 0.0 {
            normal_probability(x, Tail::Lower) - probability
        } else {
            (1.0 - probability) - normal_probability(x, Tail::Upper)
        };
        let density = (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let step = excess / density;
        if step.is_finite() {
            x -= step;
        }
    }
    Some(x)
}

/// The two-sided normal multiplier of a confidence level: 1.959963984540054 for 0.95. `None` outside (0, 1).
pub fn normal_multiplier(level: f64) -> Option<f64> {
    if !(level > 0.0 && level < 1.0) {
        return None;
    }
    normal_quantile((1.0 - level) / 2.0).map(|z| -z)
}

/// Refuses a confidence level outside (0, 1).
pub(crate) fn check_level(level: f64) -> Result<(), SurvivalError> {
    if level > 0.0 && level < 1.0 {
        Ok(())
    } else {
        Err(SurvivalError::LevelOutOfRange)
    }
}

/// Two-sided p-value of a standard normal statistic.
pub fn two_sided_p_value(z: f64) -> f64 {
    (2.0 * normal_probability(z.abs(), Tail::Upper)).min(1.0)
}

/// Probability of a chi-squared variable with `df` degrees of freedom (any positive number).
pub fn chi_squared_probability(x: f64, tail: Tail, df: f64) -> Option<f64> {
    gamma_probability(x / 2.0, tail, df / 2.0)
}

/// Chi-squared quantile: the point with `probability` in the given tail.
pub fn chi_squared_quantile(probability: f64, tail: Tail, df: f64) -> Option<f64> {
    Some(2.0 * gamma_quantile(probability, tail, df / 2.0)?)
}

/// Probability of a gamma variable with the given shape and scale 1.
pub fn gamma_probability(x: f64, tail: Tail, shape: f64) -> Option<f64> {
    if x.is_nan() || !is_parameter(shape) {
        return None;
    }
    if x <= 0.0 || x == f64::INFINITY {
        let is_all = (x > 0.0) == (tail == Tail::Lower);
        return Some(f64::from(u8::from(is_all)));
    }
    match tail {
        Tail::Lower => gamma::checked_gamma_lr(shape, x),
        Tail::Upper => gamma::checked_gamma_ur(shape, x),
    }
    .ok()
    .map(|probability| probability.clamp(0.0, 1.0))
}

/// Gamma quantile (scale 1): the point with `probability` in the given tail; 0 and infinity at the ends.
pub fn gamma_quantile(probability: f64, tail: Tail, shape: f64) -> Option<f64> {
    if !is_parameter(shape) || !is_probability(probability) {
        return None;
    }
    if probability == 0.0 || probability == 1.0 {
        let is_low_end = (probability == 0.0) == (tail == Tail::Lower);
        return Some(if is_low_end { 0.0 } else { f64::INFINITY });
    }
    let mut high = shape.max(1.0);
    while is_short_of(gamma_probability(high, tail, shape)?, probability, tail) {
        high *= 2.0;
    }
    bisect(0.0, high, |x| {
        Some(is_short_of(
            gamma_probability(x, tail, shape)?,
            probability,
            tail,
        ))
    })
}

/// Probability of a beta variable with shapes `a` and `b` (the regularised incomplete beta function).
pub fn beta_probability(x: f64, tail: Tail, a: f64, b: f64) -> Option<f64> {
    if !is_probability(x) || !is_parameter(a) || !is_parameter(b) {
        return None;
    }
    // the continued fraction converges fast left of the mean only
    let is_left = x < (a + 1.0) / (a + b + 2.0);
    let nearer = if is_left {
        beta_lower_tail(a, b, x)
    } else {
        beta_lower_tail(b, a, 1.0 - x)
    };
    let nearer = nearer.clamp(0.0, 1.0);
    Some(if is_left == (tail == Tail::Lower) {
        nearer
    } else {
        1.0 - nearer
    })
}

/// Beta quantile: the point with `probability` in the given tail.
pub fn beta_quantile(probability: f64, tail: Tail, a: f64, b: f64) -> Option<f64> {
    if !is_probability(probability) || !is_parameter(a) || !is_parameter(b) {
        return None;
    }
    if probability == 0.0 || probability == 1.0 {
        let is_low_end = (probability == 0.0) == (tail == Tail::Lower);
        return Some(if is_low_end { 0.0 } else { 1.0 });
    }
    // a point near 1 keeps its digits only as a distance from 1
    if is_short_of(beta_probability(0.5, tail, a, b)?, probability, tail) {
        let from_one = bisect(0.0, 0.5, |y| {
            let reached = beta_probability(y, tail.other(), b, a)?;
            Some(!is_short_of(reached, probability, tail))
        })?;
        return Some(1.0 - from_one);
    }
    bisect(0.0, 0.5, |x| {
        Some(is_short_of(
            beta_probability(x, tail, a, b)?,
            probability,
            tail,
        ))
    })
}

/// Probability of at most (`Lower`) or more than (`Upper`) `count` successes in `n` trials.
pub fn binomial_probability(count: u64, tail: Tail, n: u64, success: f64) -> Option<f64> {
    if !is_probability(success) {
        return None;
    }
    if count >= n {
        return Some(f64::from(u8::from(tail == Tail::Lower)));
    }
    beta_probability(
        success,
        tail.other(),
        count as f64 + 1.0,
        (n - count) as f64,
    )
}

/// Probability of exactly `count` successes in `n` trials.
pub fn binomial_mass(count: u64, n: u64, success: f64) -> Option<f64> {
    if !is_probability(success) {
        return None;
    }
    if count > n {
        return Some(0.0);
    }
    let (hits, misses) = (count as f64, (n - count) as f64);
    let log_choose = ln_gamma(n as f64 + 1.0)? - ln_gamma(hits + 1.0)? - ln_gamma(misses + 1.0)?;
    Some((log_choose + times_ln(hits, success) + times_ln(misses, 1.0 - success)).exp())
}

/// Probability of at most (`Lower`) or more than (`Upper`) `count` events of a Poisson variable.
pub fn poisson_probability(count: u64, tail: Tail, mean: f64) -> Option<f64> {
    if mean == 0.0 {
        return Some(f64::from(u8::from(tail == Tail::Lower)));
    }
    gamma_probability(mean, tail.other(), count as f64 + 1.0).filter(|_| mean > 0.0)
}

/// Probability of exactly `count` events of a Poisson variable.
pub fn poisson_mass(count: u64, mean: f64) -> Option<f64> {
    if !(mean >= 0.0 && mean.is_finite()) {
        return None;
    }
    let count = count as f64;
    Some((times_ln(count, mean) - mean - ln_gamma(count + 1.0)?).exp())
}

/// Natural logarithm of the gamma function, for positive finite arguments.
pub fn ln_gamma(x: f64) -> Option<f64> {
    (x > 0.0 && x.is_finite()).then(|| gamma::ln_gamma(x))
}

/// `factor * ln(x)` with 0 * ln(0) = 0.
fn times_ln(factor: f64, x: f64) -> f64 {
    if factor == 0.0 { 0.0 } else { factor * x.ln() }
}

/// Whether a point whose tail probability is `reached` lies below the quantile wanted.
fn is_short_of(reached: f64, wanted: f64, tail: Tail) -> bool {
    match tail {
        Tail::Lower => reached < wanted,
        Tail::Upper => reached > wanted,
    }
}

/// Halves `[low, high]` until no number lies between; geometric steps first, so that tiny quantiles keep their digits.
fn bisect(low: f64, high: f64, is_short: impl Fn(f64) -> Option<bool>) -> Option<f64> {
    let (mut low, mut high) = (low, high);
    for _ in 0..2200 {
        let middle = if low == 0.0 {
            high * 0.25
        } else if high / low > 4.0 {
            (low * high).sqrt()
        } else {
            low + (high - low) / 2.0
        };
        if middle <= low || middle >= high {
            break;
        }
        if is_short(middle)? {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}

/// Continued fraction of the incomplete beta function (Didonato and Morris, ACM TOMS 1992;18:360, in the
/// even/odd form of Abramowitz and Stegun 26.5.8), evaluated from the top by the modified Lentz rule.
fn beta_lower_tail(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let front = (a * x.ln() + b * (-x).ln_1p() - ln_beta(a, b)).exp() / a;
    let keep_off_zero = |value: f64| {
        if value.abs() < 1e-300 { 1e-300 } else { value }
    };
    let mut numerator = 1.0;
    let mut denominator = 1.0 / keep_off_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = denominator;
    let mut m = 1.0;
    while m < 1e6 {
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut change = 1.0;
        for term in [even, odd] {
            denominator = 1.0 / keep_off_zero(1.0 + term * denominator);
            numerator = keep_off_zero(1.0 + term / numerator);
            change = denominator * numerator;
            fraction *= change;
        }
        if (change - 1.0).abs() < 1e-16 {
            break;
        }
        m += 1.0;
    }
    front * fraction
}
