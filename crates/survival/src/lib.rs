//! Estimates from follow-up times, and the counts and limits around them.
//!
//! No clinic word, no calendar date and no file is known here: times are numbers, causes are numbers,
//! clusters are numbers. The crate needs none of the others and can be used on its own.
//!
//! [`Sample`] checks the columns once; every estimator is a function from a sample and its options to a named result. Times may be
//! in any one unit; intervals are (entry, exit], and at equal times events come before censorings. What cannot be estimated
//! is `None` or a note, never a number that only looks like one.
//!
//! ```
//! use survival::{CurveOptions, Sample, Variance, aalen_johansen};
//! // Four follow-ups of three subjects. Cause 0 is censored; 1 and 2 are events that rule each other out.
//! let sample = Sample::new(vec![1.0, 2.0, 3.0, 4.0], vec![1, 2, 0, 1])?.with_cluster(vec![7, 8, 8, 9])?;
//! let options = CurveOptions { variance: Variance::Robust, ..CurveOptions::default() };
//! let incidence = aalen_johansen(&sample, &options)?;
//! let of_cause_1 = incidence.of_cause(1).and_then(|curve| curve.at(4.0));
//! // by hand: 1/4 at time 1, then 2/4 of the rows are still without an event when the last one has it
//! assert_eq!(of_cause_1.map(|point| point.estimate), Some(0.75));
//! # Ok::<(), survival::SurvivalError>(())
//! ```
//!
//! | What is asked | Where |
//! |---|---|
//! | probability of no event yet; cumulative hazard; mean time without an event | [`kaplan_meier`], [`nelson_aalen`], [`restricted_mean`] |
//! | probability of one event where others compete | [`aalen_johansen`] |
//! | whether groups differ | [`log_rank`], [`gray_test`], [`restricted_means`] |
//! | events that come again; states left and entered again | [`mean_cumulative_count`], [`state_occupancy`], [`expected_time_in_states`] |
//! | times known only to lie between two others | [`interval`] |
//! | hazard, incidence or odds by covariates | [`regression::cox`], [`regression::fine_gray`], [`regression::logistic`] |
//! | groups that were not drawn by lot | [`weighting`] |
//! | proportions and rates, observed against expected, funnels | [`counts`] |
//! | a series of figures over time | [`counts::chart`], [`counts::risk_adjusted_cumulative_sum`] |
//! | probabilities and quantiles of the usual distributions | [`distribution`] |
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
