//! Events per exposure and observed against expected counts, under a Poisson law.

use serde::{Deserialize, Serialize};

use super::root::crossing;
use super::{ConfidenceLimits, poisson_exact};
use crate::distribution::{Tail, normal_multiplier, poisson_mass, poisson_probability};

/// How the limits of a Poisson count, rate or observed/expected ratio are made.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RateLimits {
    /// Exact, each tail at most half of 1 - level. Source: Garwood, Biometrika 1936;28:437-442.
    #[default]
    Exact,
    /// Exact tails that count half of the observed point. Source: Cohen and Yang, Stat Med 1994;13:2189-2203.
    MidP,
    /// Byar's cube-root approximation, from the count below and the count plus one above. Source: Breslow and Day,
    /// Statistical Methods in Cancer Research II, 1987.
    Byar,
    /// Symmetric on the log scale, standard error 1/sqrt(count). Not estimable without an event.
    Log,
}

/// Events per unit of exposure. With expected events as the exposure this is the observed/expected ratio.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rate {
    /// Events counted.
    pub n_events: u64,
    /// Exposure, in the unit of the caller (person-years, expected events).
    pub exposure: f64,
    /// Events per unit of exposure; `None` when the exposure is 0.
    pub estimate: Option<f64>,
    /// Limits per unit of exposure; `None` when not estimable.
    pub limits: Option<ConfidenceLimits>,
    /// Confidence level, between 0 and 1.
    pub level: f64,
    /// How the limits were made.
    pub method: RateLimits,
}

/// Rate of `n_events` over `exposure`, with limits of the named kind at `level`.
///
/// The count is taken as Poisson and the exposure (or the expected count) as known. For common outcomes the
/// Poisson law is too wide: use [`super::observed_against_expected`] there.
/// Not estimable (`None` inside) when the exposure is not finite and above 0, or the level not strictly between 0 and 1.
///
/// ```
/// use survival::counts::{RateLimits, rate};
/// let ratio = rate(9, 4.2, 0.95, RateLimits::Exact);
/// let limits = ratio.limits.unwrap();
/// assert!((ratio.estimate.unwrap() - 2.1429).abs() < 5e-5);
/// assert!((limits.lower - 0.9799).abs() < 5e-5 && (limits.upper - 4.0678).abs() < 5e-5);
/// ```
pub fn rate(n_events: u64, exposure: f64, level: f64, method: RateLimits) -> Rate {
    let is_estimable = exposure.is_finite() && exposure > 0.0;
    let limits = poisson_limits(n_events, level, method).filter(|_| is_estimable);
    Rate {
        n_events,
        exposure,
        estimate: is_estimable.then(|| n_events as f64 / exposure),
        limits: limits.map(|count| ConfidenceLimits {
            lower: count.lower / exposure,
            upper: count.upper / exposure,
        }),
        level,
        method,
    }
}

fn poisson_limits(n_events: u64, level: f64, method: RateLimits) -> Option<ConfidenceLimits> {
    match method {
        RateLimits::Exact => poisson_exact(n_events, level),
        RateLimits::MidP => poisson_mid_p(n_events, level),
        RateLimits::Byar => poisson_byar(n_events, level),
        RateLimits::Log => poisson_log(n_events, level),
    }
}

/// Mid-P limits of a Poisson count: as the exact ones, with the observed point counted half in each tail.
///
/// The lower limit of no event is 0. `None` when the level is not strictly between 0 and 1 or the count above 10^10.
/// Source: Cohen and Yang, Stat Med 1994;13:2189-2203.
pub fn poisson_mid_p(n_events: u64, level: f64) -> Option<ConfidenceLimits> {
    let tail = tail_of(level)?;
    // Mid-P limits lie inside the exact ones.
    let exact = poisson_exact(n_events, level)?;
    let count = n_events as f64;
    let half_of_own = |mean: f64| Some(0.5 * poisson_mass(n_events, mean)?);
    let lower = if n_events == 0 {
        0.0
    } else {
        let excess = |mean: f64| Some(at_least(n_events, mean)? - half_of_own(mean)? - tail);
        crossing(
            |mean| excess(mean).unwrap_or(f64::NAN),
            exact.lower,
            count,
            0.0,
        )?
    };
    let excess = |mean: f64| Some(at_most(n_events, mean)? - half_of_own(mean)? - tail);
    let upper = crossing(
        |mean| excess(mean).unwrap_or(f64::NAN),
        count,
        exact.upper,
        0.0,
    )?;
    Some(ConfidenceLimits { lower, upper })
}

fn at_most(count: u64, mean: f64) -> Option<f64> {
    poisson_probability(count, Tail::Lower, mean)
}

fn at_least(count: u64, mean: f64) -> Option<f64> {
    match count.checked_sub(1) {
        None => Some(1.0),
        Some(before) => poisson_probability(before, Tail::Upper, mean),
    }
}

/// Byar's approximate limits of a Poisson count; within 0.1% of the exact ones from about 10 events.
///
/// The lower limit of no event is 0. `None` when the level is not strictly between 0 and 1.
/// Source: Breslow and Day, Statistical Methods in Cancer Research II, 1987, chapter 2.
pub fn poisson_byar(n_events: u64, level: f64) -> Option<ConfidenceLimits> {
    let z = normal_multiplier(level)?;
    let count = n_events as f64;
    let cubed = |count: f64, z: f64| {
        count
            * (1.0 - 1.0 / (9.0 * count) + z / (3.0 * count.sqrt()))
                .max(0.0)
                .powi(3)
    };
    let lower = if n_events == 0 { 0.0 } else { cubed(count, -z) };
    Some(ConfidenceLimits {
        lower,
        upper: cubed(count + 1.0, z),
    })
}

fn poisson_log(n_events: u64, level: f64) -> Option<ConfidenceLimits> {
    let z = normal_multiplier(level)?;
    if n_events == 0 {
        return None;
    }
    let count = n_events as f64;
    let factor = (z / count.sqrt()).exp();
    Some(ConfidenceLimits {
        lower: count / factor,
        upper: count * factor,
    })
}

/// Two-sided p-values of an observed Poisson count against an expected one; three conventions are in use.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PoissonPValues {
    /// Twice the smaller tail, at most 1; agrees with the exact limits.
    pub twice_smaller_tail: f64,
    /// Twice the smaller tail with the observed point counted half, at most 1; agrees with the mid-P limits.
    pub mid_p: f64,
    /// Sum of all counts no likelier than the observed one.
    pub minimum_likelihood: f64,
}

/// P-values of `n_events` where `expected` were expected under a Poisson law.
///
/// `None` when `expected` is not finite or negative, or the count above 10^10. Expected 0: 1 for no event, 0 for any.
pub fn poisson_p_values(n_events: u64, expected: f64) -> Option<PoissonPValues> {
    let own = poisson_mass(n_events, expected)?;
    let (below, above) = (at_most(n_events, expected)?, at_least(n_events, expected)?);
    Some(PoissonPValues {
        twice_smaller_tail: (2.0 * below.min(above)).min(1.0),
        mid_p: (2.0 * (below.min(above) - 0.5 * own)).clamp(0.0, 1.0),
        minimum_likelihood: minimum_likelihood(n_events, expected, own)?,
    })
}

fn minimum_likelihood(count: u64, expected: f64, own: f64) -> Option<f64> {
    // Equal probabilities on both sides differ in the last digits: compare with a little room.
    let bar = own * (1.0 + 1e-7);
    let is_unlikely = |count: u64| poisson_mass(count, expected).is_none_or(|mass| mass <= bar);
    let mode = expected.floor() as u64;
    let p_value = if count == mode {
        1.0
    } else if count < mode {
        at_most(count, expected)? + at_least(first_true(&is_unlikely, mode), expected)?
    } else {
        let opposite = match last_true(&is_unlikely, mode) {
            Some(opposite) => at_most(opposite, expected)?,
            None => 0.0,
        };
        opposite + at_least(count, expected)?
    };
    Some(p_value.min(1.0))
}

/// First number from `start` upward for which `holds`, given that it then holds for all greater ones.
fn first_true(holds: &impl Fn(u64) -> bool, start: u64) -> u64 {
    let mut width = 1_u64;
    while !holds(start.saturating_add(width)) {
        width = width.saturating_mul(2);
    }
    let (mut not_yet, mut reached) = (start, start.saturating_add(width));
    if holds(start) {
        return start;
    }
    while reached - not_yet > 1 {
        let middle = not_yet + (reached - not_yet) / 2;
        if holds(middle) {
            reached = middle;
        } else {
            not_yet = middle;
        }
    }
    reached
}

/// Last number up to `start` for which `holds`, given that it then holds for all smaller ones.
fn last_true(holds: &impl Fn(u64) -> bool, start: u64) -> Option<u64> {
    if holds(start) {
        return Some(start);
    }
    if !holds(0) {
        return None;
    }
    let (mut reached, mut not_yet) = (0, start);
    while not_yet - reached > 1 {
        let middle = reached + (not_yet - reached) / 2;
        if holds(middle) {
            reached = middle;
        } else {
            not_yet = middle;
        }
    }
    Some(reached)
}

fn tail_of(level: f64) -> Option<f64> {
    (level > 0.0 && level < 1.0).then_some((1.0 - level) / 2.0)
}
