//! Estimates from follow-up times, and the counts and limits around them.
//!
//! No clinic word, no calendar date and no file is known here: times are numbers, causes are numbers,
//! clusters are numbers.
//!
//! [`Sample`] checks the columns once; every estimator is a function from a sample and its options to a named result.

pub mod counts;
mod curve;
pub mod distribution;
mod error;
mod incidence;
mod influence;
pub mod interval;
mod kaplan_meier;
mod random;
pub mod regression;
mod risk_table;
mod sample;
mod time_order;
pub mod weighting;

pub use counts::{ConfidenceLimits, poisson_exact, wilson};
pub use curve::{Curve, CurveNote, CurveOptions, CurvePoint, Limits, Quantile, Quantity, Variance};
pub use error::SurvivalError;
pub use incidence::{CumulativeIncidence, aalen_johansen};
pub use kaplan_meier::kaplan_meier;
pub use sample::Sample;
