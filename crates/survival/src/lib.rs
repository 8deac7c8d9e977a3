//! Estimates from follow-up times, and the counts and limits around them.
//!
//! No clinic word, no calendar date and no file is known here: times are numbers, causes are numbers,
//! clusters are numbers.
//!
//! [`Sample`] checks the columns once; every estimator is a function from a sample and its options to a named result.
//!
//! Neither the order of the rows nor the number of threads changes a digit: sums are taken in an order that depends on what the rows
//! hold. Only contrasts of weighted groups ([`weighting`]) may differ in their last digits when rows come in another order.

mod comparison;
mod content;
pub mod counts;
mod curve;
mod day_counts;
pub mod distribution;
mod error;
mod grouping;
mod halves;
mod incidence;
mod influence;
pub mod interval;
mod kaplan_meier;
mod linear;
mod nelson_aalen;
mod occupancy;
mod random;
mod recurrent;
pub mod regression;
mod restricted_mean;
mod risk_table;
mod sample;
mod time_order;
pub mod weighting;

pub use comparison::{
    ChiSquaredTest, GrayOptions, GroupCount, LogRank, LogRankOptions, LogRankVariance, Weighting,
    gray_test, log_rank,
};
pub use counts::{ConfidenceLimits, poisson_exact, wilson};
pub use curve::{
    BootstrapQuantile, Curve, CurveNote, CurveOptions, CurvePoint, Limits, Quantile, Quantity,
    Variance, bootstrap_quantile,
};
pub use error::SurvivalError;
pub use incidence::{CumulativeIncidence, IncidenceOfCause, aalen_johansen, incidence_of_cause};
pub use kaplan_meier::kaplan_meier;
pub use nelson_aalen::nelson_aalen;
pub use occupancy::{
    HazardPoint, Occupancy, StateHistory, TimeInState, TransitionHazard, expected_time_in_states,
    state_occupancy,
};
pub use recurrent::{EventHistory, mean_cumulative_count};
pub use restricted_mean::{
    RestrictedMean, RestrictedMeanDifference, RestrictedMeans, restricted_mean, restricted_means,
};
pub use sample::Sample;
