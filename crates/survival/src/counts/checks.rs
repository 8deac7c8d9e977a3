//! Checks of columns and settings, each with its named error.

use crate::SurvivalError;

/// Errs at the first value that is not finite.
pub(crate) fn check_finite(column: &'static str, values: &[f64]) -> Result<(), SurvivalError> {
    match values.iter().position(|value| !value.is_finite()) {
        Some(index) => Err(SurvivalError::NotFinite {
            column,
            row: index + 1,
        }),
        None => Ok(()),
    }
}

/// Errs at the first value that is not finite or below zero.
pub(crate) fn check_amounts(column: &'static str, values: &[f64]) -> Result<(), SurvivalError> {
    check_finite(column, values)?;
    match values.iter().position(|value| *value < 0.0) {
        Some(index) => Err(SurvivalError::Negative {
            column,
            row: index + 1,
        }),
        None => Ok(()),
    }
}

/// Errs at the first value outside [0, 1] or not a number.
pub(crate) fn check_probabilities(
    column: &'static str,
    values: &[f64],
) -> Result<(), SurvivalError> {
    match values.iter().position(|value| !(0.0..=1.0).contains(value)) {
        Some(index) => Err(SurvivalError::NotAProbability {
            column,
            row: index + 1,
        }),
        None => Ok(()),
    }
}

/// Errs at the first count above its denominator.
pub(crate) fn check_not_above(
    column: &'static str,
    counts: &[u64],
    n: &[u64],
) -> Result<(), SurvivalError> {
    match counts.iter().zip(n).position(|(count, n)| count > n) {
        Some(index) => Err(SurvivalError::AboveDenominator {
            column,
            row: index + 1,
        }),
        None => Ok(()),
    }
}

/// Errs when a setting is not a number above 0 (and finite).
pub(crate) fn check_above_zero(setting: &'static str, value: f64) -> Result<(), SurvivalError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(SurvivalError::SettingOutOfRange {
            setting,
            rule: "must be finite and above 0",
        })
    }
}

/// Errs when a setting does not lie strictly between 0 and 1.
pub(crate) fn check_share(setting: &'static str, value: f64) -> Result<(), SurvivalError> {
    if value > 0.0 && value < 1.0 {
        Ok(())
    } else {
        Err(SurvivalError::SettingOutOfRange {
            setting,
            rule: "must lie between 0 and 1, both excluded",
        })
    }
}

/// Most repetitions, points or people of one simulation.
const LARGEST_SIMULATION: usize = 10_000_000;

/// Errs when the size of a simulation is 0 or above ten million.
pub(crate) fn check_simulation(setting: &'static str, size: usize) -> Result<(), SurvivalError> {
    if (1..=LARGEST_SIMULATION).contains(&size) {
        Ok(())
    } else {
        Err(SurvivalError::SettingOutOfRange {
            setting,
            rule: "must lie between 1 and 10000000",
        })
    }
}

/// The error of too few usable values.
pub(crate) fn too_few(n_found: usize, n_needed: usize) -> SurvivalError {
    SurvivalError::TooFewValues { n_found, n_needed }
}
