//! Counts without follow-up: proportions and rates with their limits.

mod limits;

pub use limits::{ConfidenceLimits, poisson_exact, wilson};
