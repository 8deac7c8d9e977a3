//! The two limits every table needs: Wilson's for a proportion, the exact ones for a Poisson count.

use crate::distribution::{Tail, gamma_quantile, normal_multiplier};
use serde::Serialize;

/// A lower and an upper confidence limit, in the unit of the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ConfidenceLimits {
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
}

/// Wilson's limits for `n_events` out of `n`, without continuity correction; a proportion in [0, 1].
///
/// The lower limit of 0 events is exactly 0, the upper limit of `n` events exactly 1. `None` when `n` is 0, when
/// `n_events` exceeds `n` or when the level lies outside (0, 1).
/// Source: Wilson, JASA 1927;22:209; Newcombe, Stat Med 1998;17:857, method 3 (81 of 263: 0.2553 to 0.3662).
pub fn wilson(n_events: u64, n: u64, level: f64) -> Option<ConfidenceLimits> {
    if n == 0 || n_events > n {
        return None;
    }
    let z = normal_multiplier(level)?;
    let (events, n) = (n_events as f64, n as f64);
    let share = events / n;
    let centre = share + z * z / (2.0 * n);
    let reach = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    let shrink = 1.0 + z * z / n;
    Some(ConfidenceLimits {
        lower: if events == 0.0 {
            0.0
        } else {
            ((centre - reach) / shrink).max(0.0)
        },
        upper: if events == n {
            1.0
        } else {
            ((centre + reach) / shrink).min(1.0)
        },
    })
}

/// Exact limits for the mean of a Poisson count; a count, 0 or more.
///
/// Each tail holds half of 1 - level, so the limits cover at least the level. The lower limit of 0 events is 0.
/// `None` when the level lies outside (0, 1). Source: Garwood, Biometrika 1936;28:437 (0 events: 0 to 3.6889).
pub fn poisson_exact(n_events: u64, level: f64) -> Option<ConfidenceLimits> {
    if !(level > 0.0 && level < 1.0) {
        return None;
    }
    let tail = (1.0 - level) / 2.0;
    let events = n_events as f64;
    Some(ConfidenceLimits {
        lower: if n_events == 0 {
            0.0
        } else {
            gamma_quantile(tail, Tail::Lower, events)?
        },
        upper: gamma_quantile(tail, Tail::Upper, events + 1.0)?,
    })
}
