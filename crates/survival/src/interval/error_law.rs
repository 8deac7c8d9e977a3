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

/// What one row adds to the log likelihood: value, slopes in its lower and upper z, and second derivatives. A time known exactly
/// has one z, written as the lower.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Part {
    pub(crate) value: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) low_low: f64,
    pub(crate) low_high: f64,
    pub(crate) high_high: f64,
    /// Number of times the row adds ln a.
    pub(crate) n_exact: f64,
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

    /// The time is known to be at z.
    pub(crate) fn exactly(self, z: f64) -> Part {
        let (value, low, low_low) = if self.is_normal() {
            (log_normal_density(z), -z, -1.0)
        } else {
            let hazard = z.exp();
            (z - hazard, 1.0 - hazard, -hazard)
        };
        Part {
            value,
            low,
            low_low,
            n_exact: 1.0,
            ..Part::default()
        }
    }

    /// The time is after z.
    pub(crate) fn above(self, z: f64) -> Part {
        if self.is_normal() {
            let value = log_normal_tail(z);
            let share = (log_normal_density(z) - value).exp();
            return Part {
                value,
                low: -share,
                low_low: product(share, z) - share * share,
                ..Part::default()
            };
        }
        let hazard = z.exp();
        Part {
            value: -hazard,
            low: -hazard,
            low_low: -hazard,
            ..Part::default()
        }
    }

    /// The time is at or before z.
    pub(crate) fn below(self, z: f64) -> Part {
        if self.is_normal() {
            let value = log_normal_tail(-z);
            let share = (log_normal_density(z) - value).exp();
            return Part {
                value,
                high: share,
                high_high: product(share, -z) - share * share,
                ..Part::default()
            };
        }
        let hazard = z.exp();
        let (spared, reached) = spared_and_reached(hazard);
        // density over probability
        let share = product(spared, hazard / reached);
        Part {
            value: reached.ln(),
            high: share,
            high_high: product(share, 1.0 - hazard) - share * share,
            ..Part::default()
        }
    }

    /// The time is after `low` and at or before `high`.
    pub(crate) fn between(self, low: f64, high: f64) -> Part {
        let (value, at_low, at_high, slope_low, slope_high);
        if self.is_normal() {
            let (near, far) = if low + high > 0.0 {
                (log_normal_tail(low), log_normal_tail(high))
            } else {
                (log_normal_tail(-high), log_normal_tail(-low))
            };
            value = near + log_one_less_exp(far - near);
            at_low = (log_normal_density(low) - value).exp();
            at_high = (log_normal_density(high) - value).exp();
            (slope_low, slope_high) = (-low, -high);
        } else {
            // hazard passed at both ends, and between them with all digits however near they are
            let below = low.exp();
            let passed = below * (high - low).exp_m1();
            let above = below + passed;
            let (spared, reached) = spared_and_reached(passed);
            value = reached.ln() - below;
            at_low = below / reached;
            at_high = product(spared, above / reached);
            (slope_low, slope_high) = (1.0 - below, 1.0 - above);
        }
        Part {
            value,
            low: -at_low,
            high: at_high,
            low_low: -product(at_low, slope_low) - at_low * at_low,
            low_high: at_low * at_high,
            high_high: product(at_high, slope_high) - at_high * at_high,
            n_exact: 0.0,
        }
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

/// e^-h and 1 - e^-h, the smaller with all its digits.
fn spared_and_reached(hazard: f64) -> (f64, f64) {
    if hazard > std::f64::consts::LN_2 {
        let spared = (-hazard).exp();
        (spared, 1.0 - spared)
    } else {
        let reached = -(-hazard).exp_m1();
        (1.0 - reached, reached)
    }
}

/// A product that is 0 where its first factor is, whatever the second.
fn product(share: f64, factor: f64) -> f64 {
    if share == 0.0 { 0.0 } else { share * factor }
}

fn log_normal_density(z: f64) -> f64 {
    -0.5 * z * z - 0.5 * std::f64::consts::TAU.ln()
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
                let (below_high, below_low) = (law.below(high).value, law.below(low).value);
                let difference = below_high.exp() - below_low.exp();
                assert!((law.between(low, high).value.exp() - difference).abs() < 1e-14);
                assert!((law.above(low).value.exp() + below_low.exp() - 1.0).abs() < 1e-14);
            }
        }
    }

    /// Derivatives against differences of the values, by Richardson's extrapolation.
    #[test]
    fn slopes_and_curvatures_are_those_of_the_values() {
        let near = |found: f64, value: &dyn Fn(f64) -> f64| {
            let slope = |h: f64| (value(h) - value(-h)) / (2.0 * h);
            let expected = (4.0 * slope(5e-4) - slope(1e-3)) / 3.0;
            assert!(
                (found - expected).abs() < 1e-8 * (1.0 + expected.abs()),
                "{found} {expected}"
            );
        };
        for law in [Distribution::Weibull, Distribution::LogNormal] {
            for z in [-4.0, -1.0, 0.3, 1.2] {
                for at in [Distribution::exactly, Distribution::above] {
                    near(at(law, z).low, &|h| at(law, z + h).value);
                    near(at(law, z).low_low, &|h| at(law, z + h).low);
                }
                near(law.below(z).high, &|h| law.below(z + h).value);
                near(law.below(z).high_high, &|h| law.below(z + h).high);
                for width in [0.3, 0.8, 2.0] {
                    let part = law.between(z, z + width);
                    near(part.low, &|h| law.between(z + h, z + width).value);
                    near(part.high, &|h| law.between(z, z + width + h).value);
                    near(part.low_low, &|h| law.between(z + h, z + width).low);
                    near(part.low_high, &|h| law.between(z, z + width + h).low);
                    near(part.high_high, &|h| law.between(z, z + width + h).high);
                }
            }
        }
    }

    #[test]
    fn nothing_is_not_a_number_far_out() {
        for law in [Distribution::Weibull, Distribution::LogNormal] {
            for z in [-600.0, -40.0, 6.0] {
                for part in [
                    law.exactly(z),
                    law.above(z),
                    law.below(z),
                    law.between(z, z + 1e-9),
                ] {
                    let numbers = [
                        part.value,
                        part.low,
                        part.high,
                        part.low_low,
                        part.high_high,
                    ];
                    assert!(
                        numbers.iter().all(|number| number.is_finite()),
                        "{z} {part:?}"
                    );
                }
            }
        }
    }
}
