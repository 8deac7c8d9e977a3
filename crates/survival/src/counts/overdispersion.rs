//! How far units spread beyond chance, and how much to widen funnel limits for it.

use serde::{Deserialize, Serialize};

use super::sample_quantile;

/// Scale on which a unit is compared with the target.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scale {
    /// The ratio or proportion itself, with its standard error at the target.
    Plain,
    /// Square root for observed/expected, arcsine of the square root for proportions: the standard error does not
    /// depend on the target.
    #[default]
    Stabilised,
}

/// What is done to extreme units before the spread is measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Winsorising {
    /// Nothing.
    Nothing,
    /// Pull z scores in to their quantiles (type 7) at `share` and its complement.
    Quantile {
        /// Share of the units at each end, 0 to 0.5.
        share: f64,
    },
    /// Pull the whole number of units in `share`, at each end, in to the next z score; 8 units at 0.1 change nothing.
    Count {
        /// Share of the units at each end, 0 to 0.5.
        share: f64,
    },
}

impl Default for Winsorising {
    /// A tenth at each end, by quantiles.
    fn default() -> Winsorising {
        Winsorising::Quantile { share: 0.1 }
    }
}

/// Spread of units around a target.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overdispersion {
    /// Standardised distance of each unit from the target, before winsorising.
    pub z: Vec<f64>,
    /// The same after winsorising.
    pub z_winsorised: Vec<f64>,
    /// Mean square of the winsorised z: 1 by chance alone.
    pub phi: f64,
    /// What phi must exceed to be called more than chance: 1 + 2 sqrt(2 / units).
    pub phi_threshold: f64,
    /// Whether phi exceeds its threshold.
    pub is_overdispersed: bool,
    /// Variance between units beyond chance, on the square of `scale`; 0 when phi leaves none.
    pub tau_squared: f64,
    /// Scale of z and tau squared.
    pub scale: Scale,
}

/// How limits are widened.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Widening {
    /// Chance alone.
    #[default]
    Nothing,
    /// Standard errors times sqrt(phi); phi below 1 never narrows.
    Multiplicative {
        /// Mean square z.
        phi: f64,
    },
    /// Variances plus tau squared.
    Additive {
        /// Variance between units on the scale of the limits.
        tau_squared: f64,
    },
}

impl Overdispersion {
    /// Multiplicative widening if the spread is more than chance by the test, else none.
    pub fn multiplicative(&self) -> Widening {
        if self.is_overdispersed {
            Widening::Multiplicative { phi: self.phi }
        } else {
            Widening::Nothing
        }
    }

    /// Additive widening if the spread is more than chance by the test, else none.
    pub fn additive(&self) -> Widening {
        if self.is_overdispersed {
            Widening::Additive {
                tau_squared: self.tau_squared,
            }
        } else {
            Widening::Nothing
        }
    }
}

/// Spread of observed/expected ratios around `target`.
///
/// `None` when the lengths differ, there is no unit, or an expected count or the target is not above 0.
/// Source: Spiegelhalter, Stat Med 2005;24:1185-1202, section 3 and appendix; tau squared,
/// DerSimonian and Laird, Control Clin Trials 1986;7:177-188.
pub fn ratio_overdispersion(
    observed: &[u64],
    expected: &[f64],
    target: f64,
    scale: Scale,
    winsorising: Winsorising,
) -> Option<Overdispersion> {
    let is_above_zero = |value: f64| value.is_finite() && value > 0.0;
    if observed.len() != expected.len()
        || !is_above_zero(target)
        || !expected.iter().all(|e| is_above_zero(*e))
    {
        return None;
    }
    let units = observed.iter().zip(expected).map(|(observed, expected)| {
        let ratio = *observed as f64 / expected;
        match scale {
            Scale::Plain => Unit {
                distance: ratio - target,
                variance: target / expected,
            },
            Scale::Stabilised => Unit {
                distance: ratio.sqrt() - target.sqrt(),
                variance: 1.0 / (4.0 * expected),
            },
        }
    });
    spread(units.collect(), scale, winsorising)
}

/// Spread of proportions around `target`.
///
/// `None` when the lengths differ, there is no unit, a denominator is 0 or below its count, or the target is not
/// strictly between 0 and 1. Source: as [`ratio_overdispersion`]; arcsine scale, its appendix.
pub fn proportion_overdispersion(
    n_events: &[u64],
    n: &[u64],
    target: f64,
    scale: Scale,
    winsorising: Winsorising,
) -> Option<Overdispersion> {
    let is_usable = n_events.len() == n.len()
        && target > 0.0
        && target < 1.0
        && n_events
            .iter()
            .zip(n)
            .all(|(events, n)| *n > 0 && events <= n);
    if !is_usable {
        return None;
    }
    let units = n_events.iter().zip(n).map(|(events, n)| {
        let (share, n) = (*events as f64 / *n as f64, *n as f64);
        match scale {
            Scale::Plain => Unit {
                distance: share - target,
                variance: target * (1.0 - target) / n,
            },
            Scale::Stabilised => Unit {
                distance: share.sqrt().asin() - target.sqrt().asin(),
                variance: 1.0 / (4.0 * n),
            },
        }
    });
    spread(units.collect(), scale, winsorising)
}

struct Unit {
    distance: f64,
    variance: f64,
}

fn spread(units: Vec<Unit>, scale: Scale, winsorising: Winsorising) -> Option<Overdispersion> {
    let n = units.len() as f64;
    let z: Vec<f64> = units
        .iter()
        .map(|unit| unit.distance / unit.variance.sqrt())
        .collect();
    if !z.iter().all(|z| z.is_finite()) {
        return None;
    }
    let z_winsorised = winsorised(&z, winsorising)?;
    let phi = z_winsorised.iter().map(|z| z * z).sum::<f64>() / n;
    let phi_threshold = 1.0 + 2.0 * (2.0 / n).sqrt();
    let weights: f64 = units.iter().map(|unit| 1.0 / unit.variance).sum();
    let squared_weights: f64 = units
        .iter()
        .map(|unit| 1.0 / (unit.variance * unit.variance))
        .sum();
    let room = weights - squared_weights / weights;
    let tau_squared = if room > 0.0 {
        ((n * phi - (n - 1.0)) / room).max(0.0)
    } else {
        0.0
    };
    Some(Overdispersion {
        is_overdispersed: phi > phi_threshold,
        z,
        z_winsorised,
        phi,
        phi_threshold,
        tau_squared,
        scale,
    })
}

fn winsorised(z: &[f64], winsorising: Winsorising) -> Option<Vec<f64>> {
    let (low, high) = match winsorising {
        Winsorising::Nothing => return (!z.is_empty()).then(|| z.to_vec()),
        Winsorising::Quantile { share } if (0.0..=0.5).contains(&share) => {
            (sample_quantile(z, share)?, sample_quantile(z, 1.0 - share)?)
        }
        Winsorising::Count { share } if (0.0..0.5).contains(&share) => {
            let mut sorted = z.to_vec();
            sorted.sort_by(f64::total_cmp);
            let n_pulled = (share * z.len() as f64).floor() as usize;
            (
                *sorted.get(n_pulled)?,
                *sorted.get(z.len().checked_sub(1 + n_pulled)?)?,
            )
        }
        Winsorising::Quantile { .. } | Winsorising::Count { .. } => return None,
    };
    Some(z.iter().map(|z| z.clamp(low, high)).collect())
}
