//! The law of the standardised log time: the two that matter here, with the tails kept in logarithms.

use serde::Serialize;

use crate::distribution::{Tail, normal_probability, normal_quantile};

/// Distribution of the time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Distribution {
    /// Weibull: the log time follows the law of smallest extremes.
    #[default]
    Weibull,
    /// Log-normal.
    LogNormal,
    /// Exponential: Weibull with scale 1.
    Exponential,
}

/// From here on the normal tail comes from its asymptotic series, before `erfc` underflows.
const FAR_TAIL: f64 = 30.0;

impl Distribution {
    fn is_normal(self) -> bool {
        self == Distribution::LogNormal
    }

    pub(crate) fn has_scale(self) -> bool {
        self != Distribution::Exponential
    }

    /// ln f(z).
    pub(crate) fn log_density(self, z: f64) -> f64 {
        if self.is_normal() {
            -0.5 * z * z - 0.5 * std::f64::consts::TAU.ln()
        } else {
            z - z.exp()
        }
    }

    /// Derivative of ln f.
    pub(crate) fn log_density_slope(self, z: f64) -> f64 {
        if self.is_normal() { -z } else { -z.exp_m1() }
    }

    /// Second derivative of ln f.
    pub(crate) fn log_density_curvature(self, z: f64) -> f64 {
        if self.is_normal() { -1.0 } else { -z.exp() }
    }

    /// ln P(Z > z).
    pub(crate) fn log_above(self, z: f64) -> f64 {
        if self.is_normal() {
            log_normal_tail(z)
        } else {
            -z.exp()
        }
    }

    /// ln P(Z <= z).
    pub(crate) fn log_below(self, z: f64) -> f64 {
        if self.is_normal() {
            log_normal_tail(-z)
        } else {
            log_one_less_exp(-z.exp())
        }
    }

    /// ln P(low < Z <= high), from the tail in which both are small.
    pub(crate) fn log_between(self, low: f64, high: f64) -> f64 {
        if !self.is_normal() {
            let below = low.exp();
            return -below + log_one_less_exp(-below * (high - low).exp_m1());
        }
        let (near, far) = if low + high > 0.0 {
            (log_normal_tail(low), log_normal_tail(high))
        } else {
            (log_normal_tail(-high), log_normal_tail(-low))
        };
        near + log_one_less_exp(far - near)
    }

    /// z with P(Z <= z) = probability; `None` outside (0, 1).
    pub(crate) fn quantile(self, probability: f64) -> Option<f64> {
        if !(probability > 0.0 && probability < 1.0) {
            return None;
        }
        if self.is_normal() {
            normal_quantile(probability)
        } else {
            Some((-(-probability).ln_1p()).ln())
        }
    }
}

/// ln(1 - e^x) for x at most 0, by the branch that keeps its digits (Mächler 2012, Accurately computing log(1 - exp(-|a|))).
fn log_one_less_exp(x: f64) -> f64 {
    if x > -std::f64::consts::LN_2 {
        (-x.exp_m1()).ln()
    } else {
        (-x.exp()).ln_1p()
    }
}

/// ln P(Z > z) of the standard normal; far out by the series of Abramowitz and Stegun 1964, 26.2.12.
fn log_normal_tail(z: f64) -> f64 {
    if z < FAR_TAIL {
        return normal_probability(z, Tail::Upper).ln();
    }
    let inverse_square = 1.0 / (z * z);
    let series = 1.0 - inverse_square * (1.0 - 3.0 * inverse_square * (1.0 - 5.0 * inverse_square));
    -0.5 * z * z - 0.5 * std::f64::consts::TAU.ln() - z.ln() + series.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_far_tail_joins_the_near_one_and_does_not_underflow() {
        // ln Q(30) and ln Q(50) from R 4.2.2
        assert!((log_normal_tail(29.999999) - log_normal_tail(30.0)).abs() < 1e-4);
        assert!((log_normal_tail(30.0) + 454.321_243_956_343_2).abs() < 1e-8);
        assert!((log_normal_tail(50.0) + 1_254.831_361_139_43).abs() < 1e-8);
    }

    #[test]
    fn the_probability_between_is_the_difference_of_the_tails() {
        for law in [Distribution::Weibull, Distribution::LogNormal] {
            for (low, high) in [(-2.0, -1.0), (-0.5, 0.7), (0.5, 1.0)] {
                let difference = law.log_below(high).exp() - law.log_below(low).exp();
                assert!((law.log_between(low, high).exp() - difference).abs() < 1e-14);
                assert!((law.log_above(low).exp() + law.log_below(low).exp() - 1.0).abs() < 1e-14);
            }
        }
    }
}
