//! Pointwise confidence limits on the five scales.

use super::{Limits, Quantity};
use crate::counts::ConfidenceLimits;

/// Limits of one estimate; `None` where the scale has no value there (see [`Limits`]).
pub(crate) fn pointwise_limits(
    quantity: Quantity,
    limits: Limits,
    multiplier: f64,
    estimate: f64,
    std_error: f64,
) -> Option<ConfidenceLimits> {
    let found = match quantity {
        Quantity::EventFree | Quantity::Incidence | Quantity::Occupancy => {
            of_probability(limits, multiplier, estimate, std_error)
        }
        Quantity::CumulativeHazard | Quantity::MeanCount => {
            of_unbounded(limits, multiplier, estimate, std_error)
        }
    };
    found.filter(|found| found.lower.is_finite() && found.upper.is_finite())
}

fn of_probability(
    limits: Limits,
    multiplier: f64,
    estimate: f64,
    std_error: f64,
) -> Option<ConfidenceLimits> {
    let is_inside = estimate > 0.0 && estimate < 1.0;
    let reach = multiplier * std_error;
    let ConfidenceLimits { lower, upper } = match limits {
        Limits::Linear => ConfidenceLimits {
            lower: estimate - reach,
            upper: estimate + reach,
        },
        Limits::Log if estimate > 0.0 => log_limits(estimate, reach),
        Limits::LogLog if is_inside => {
            let logarithm = estimate.ln();
            let factor = (reach / (estimate * -logarithm)).exp();
            ConfidenceLimits {
                lower: (logarithm * factor).exp(),
                upper: (logarithm / factor).exp(),
            }
        }
        Limits::Logit if is_inside => {
            let factor = (reach / (estimate * (1.0 - estimate))).exp();
            let odds = estimate / (1.0 - estimate);
            ConfidenceLimits {
                lower: odds / (factor + odds),
                upper: 1.0 / (1.0 + 1.0 / (odds * factor)),
            }
        }
        Limits::Arcsine if is_inside => {
            let angle = estimate.sqrt().asin();
            let reach = 0.5 * reach / (estimate * (1.0 - estimate)).sqrt();
            ConfidenceLimits {
                lower: (angle - reach).max(0.0).sin().powi(2),
                upper: (angle + reach)
                    .min(std::f64::consts::FRAC_PI_2)
                    .sin()
                    .powi(2),
            }
        }
        _ => return None,
    };
    Some(ConfidenceLimits {
        lower: lower.max(0.0).min(estimate),
        upper: upper.min(1.0).max(estimate),
    })
}

fn of_unbounded(
    limits: Limits,
    multiplier: f64,
    estimate: f64,
    std_error: f64,
) -> Option<ConfidenceLimits> {
    match limits {
        Limits::Linear => Some(ConfidenceLimits {
            lower: (estimate - multiplier * std_error).max(0.0),
            upper: estimate + multiplier * std_error,
        }),
        Limits::Log | Limits::LogLog => {
            (estimate > 0.0).then(|| log_limits(estimate, multiplier * std_error))
        }
        Limits::Logit | Limits::Arcsine => {
            let event_free = (-estimate).exp();
            let back = of_probability(limits, multiplier, event_free, std_error * event_free)?;
            Some(ConfidenceLimits {
                lower: -back.upper.ln(),
                upper: -back.lower.ln(),
            })
        }
    }
}

fn log_limits(estimate: f64, reach: f64) -> ConfidenceLimits {
    ConfidenceLimits {
        lower: estimate * (-reach / estimate).exp(),
        upper: estimate * (reach / estimate).exp(),
    }
}
