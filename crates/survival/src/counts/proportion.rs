//! A share of a known denominator, with limits of a named kind.

use serde::{Deserialize, Serialize};

use super::root::crossing;
use super::{ConfidenceLimits, wilson};
use crate::distribution::{
    Tail, beta_quantile, binomial_mass, binomial_probability, normal_multiplier,
};

/// How the limits of a proportion are made.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProportionLimits {
    /// Wilson's score limits, without continuity correction. Source: Wilson, JASA 1927;22:209-212.
    #[default]
    Wilson,
    /// Wilson's limits with continuity correction. Source: Newcombe, Stat Med 1998;17:857-872, method 4.
    WilsonContinuity,
    /// Exact limits: each tail at most half of 1 - level. Source: Clopper and Pearson, Biometrika 1934;26:404-413.
    Exact,
    /// Exact limits that count half of the observed point. Source: Berry and Armitage, The Statistician 1995;44:417-423.
    MidP,
    /// Wilson's centre with a linear width. Source: Agresti and Coull, Am Stat 1998;52:119-126. May leave [0, 1].
    AgrestiCoull,
    /// Quantiles of the posterior under Jeffreys' prior, 0 and 1 at the ends. Source:
    /// Brown, Cai and DasGupta, Stat Sci 2001;16:101-133, section 3.1.
    Jeffreys,
    /// Estimate plus and minus z standard errors. For comparison only: coverage is poor when n is small. May leave [0, 1].
    Linear,
}

/// A proportion and its limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Proportion {
    /// Those with the outcome.
    pub n_events: u64,
    /// The denominator.
    pub n: u64,
    /// Share, 0 to 1; `None` when the denominator is empty.
    pub estimate: Option<f64>,
    /// Limits of the share; `None` when the denominator is empty.
    pub limits: Option<ConfidenceLimits>,
    /// Confidence level, between 0 and 1.
    pub level: f64,
    /// How the limits were made.
    pub method: ProportionLimits,
}

/// Proportion of `n_events` among `n`, with limits of the named kind at `level`.
///
/// People must be independent: where one person gives several of the `n`, use clustered limits instead.
/// Not estimable (`None` inside) when `n` is 0, `n_events` exceeds `n` or `level` is not strictly between 0 and 1.
///
/// ```
/// use survival::counts::{ProportionLimits, proportion};
/// let share = proportion(7, 20, 0.95, ProportionLimits::Wilson);
/// let limits = share.limits.unwrap();
/// assert!((limits.lower - 0.1812).abs() < 5e-5 && (limits.upper - 0.5671).abs() < 5e-5);
/// ```
pub fn proportion(n_events: u64, n: u64, level: f64, method: ProportionLimits) -> Proportion {
    let is_estimable = n > 0 && n_events <= n;
    Proportion {
        n_events,
        n,
        estimate: is_estimable.then(|| n_events as f64 / n as f64),
        limits: proportion_limits(n_events, n, level, method),
        level,
        method,
    }
}

fn proportion_limits(
    n_events: u64,
    n: u64,
    level: f64,
    method: ProportionLimits,
) -> Option<ConfidenceLimits> {
    match method {
        ProportionLimits::Wilson => wilson(n_events, n, level),
        ProportionLimits::WilsonContinuity => wilson_continuity(n_events, n, level),
        ProportionLimits::Exact => clopper_pearson(n_events, n, level),
        ProportionLimits::MidP => binomial_mid_p(n_events, n, level),
        ProportionLimits::AgrestiCoull => agresti_coull(n_events, n, level),
        ProportionLimits::Jeffreys => jeffreys(n_events, n, level),
        ProportionLimits::Linear => linear(n_events, n, level),
    }
}

/// Exact (Clopper-Pearson) limits of a proportion, 0 to 1; 0 is the lower limit of no event, 1 the upper of only events.
///
/// `None` when `n` is 0 or above 10^10, `n_events` exceeds `n`, or `level` is not strictly between 0 and 1.
/// Source: Clopper and Pearson, Biometrika 1934;26:404-413.
pub fn clopper_pearson(n_events: u64, n: u64, level: f64) -> Option<ConfidenceLimits> {
    let Counts {
        events, n, tail, ..
    } = checked(n_events, n, level)?;
    let lower = if events == 0.0 {
        0.0
    } else {
        beta_quantile(tail, Tail::Lower, events, n - events + 1.0)?
    };
    let upper = if events == n {
        1.0
    } else {
        beta_quantile(tail, Tail::Upper, events + 1.0, n - events)?
    };
    Some(ConfidenceLimits { lower, upper })
}

/// Mid-P limits of a proportion: as [`clopper_pearson`], with the observed point counted half in each tail.
///
/// Shorter than the exact limits and close to the stated level on average; not guaranteed for every true value.
/// `None` as there. Source: Berry and Armitage, The Statistician 1995;44:417-423.
pub fn binomial_mid_p(n_events: u64, n: u64, level: f64) -> Option<ConfidenceLimits> {
    let tail = checked(n_events, n, level)?.tail;
    let half_of_own = |share: f64| Some(0.5 * binomial_mass(n_events, n, share)?);
    let solved = |excess: &dyn Fn(f64) -> Option<f64>| {
        crossing(|share| excess(share).unwrap_or(f64::NAN), 0.0, 1.0, 0.0)
    };
    let lower = match n_events.checked_sub(1) {
        None => 0.0,
        Some(before) => solved(&|share| {
            Some(binomial_probability(before, Tail::Upper, n, share)? - half_of_own(share)? - tail)
        })?,
    };
    let upper = if n_events == n {
        1.0
    } else {
        solved(&|share| {
            Some(
                binomial_probability(n_events, Tail::Lower, n, share)? - half_of_own(share)? - tail,
            )
        })?
    };
    Some(ConfidenceLimits { lower, upper })
}

fn wilson_continuity(n_events: u64, n: u64, level: f64) -> Option<ConfidenceLimits> {
    let Counts { events, n, .. } = checked(n_events, n, level)?;
    let z = normal_multiplier(level)?;
    let (p, q) = (events / n, 1.0 - events / n);
    let centre = 2.0 * n * p + z * z;
    let below = z
        * (z * z - 2.0 - 1.0 / n + 4.0 * p * (n * q + 1.0))
            .max(0.0)
            .sqrt();
    let above = z
        * (z * z + 2.0 - 1.0 / n + 4.0 * p * (n * q - 1.0))
            .max(0.0)
            .sqrt();
    let scale = 2.0 * (n + z * z);
    let lower = if events == 0.0 {
        0.0
    } else {
        ((centre - 1.0 - below) / scale).max(0.0)
    };
    let upper = if events == n {
        1.0
    } else {
        ((centre + 1.0 + above) / scale).min(1.0)
    };
    Some(ConfidenceLimits { lower, upper })
}

fn agresti_coull(n_events: u64, n: u64, level: f64) -> Option<ConfidenceLimits> {
    let Counts { events, n, .. } = checked(n_events, n, level)?;
    let z = normal_multiplier(level)?;
    let size = n + z * z;
    let centre = (events + z * z / 2.0) / size;
    let width = z * (centre * (1.0 - centre) / size).sqrt();
    Some(ConfidenceLimits {
        lower: centre - width,
        upper: centre + width,
    })
}

fn jeffreys(n_events: u64, n: u64, level: f64) -> Option<ConfidenceLimits> {
    let Counts {
        events, n, tail, ..
    } = checked(n_events, n, level)?;
    let (first, second) = (events + 0.5, n - events + 0.5);
    let lower = if events == 0.0 {
        0.0
    } else {
        beta_quantile(tail, Tail::Lower, first, second)?
    };
    let upper = if events == n {
        1.0
    } else {
        beta_quantile(tail, Tail::Upper, first, second)?
    };
    Some(ConfidenceLimits { lower, upper })
}

fn linear(n_events: u64, n: u64, level: f64) -> Option<ConfidenceLimits> {
    let Counts { events, n, .. } = checked(n_events, n, level)?;
    let p = events / n;
    let width = normal_multiplier(level)? * (p * (1.0 - p) / n).sqrt();
    Some(ConfidenceLimits {
        lower: p - width,
        upper: p + width,
    })
}

struct Counts {
    events: f64,
    n: f64,
    tail: f64,
}

fn checked(n_events: u64, n: u64, level: f64) -> Option<Counts> {
    let is_usable = n > 0 && n_events <= n && level > 0.0 && level < 1.0;
    is_usable.then(|| Counts {
        events: n_events as f64,
        n: n as f64,
        tail: (1.0 - level) / 2.0,
    })
}
