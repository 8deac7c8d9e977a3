//! Regression: how the hazard, the incidence or the odds of an event move with covariates.
//!
//! Every fit gives its terms by name, says of each whether the rows could estimate it, and never prints a
//! number that only reflects where an iteration happened to stop. Covariates are centred and scaled inside
//! for stability; everything that comes out is on the scale that went in.

mod cluster;
mod counting;
mod covariates;
mod fenwick;
pub(crate) mod gram;
mod linear;
mod logistic;
mod logistic_likelihood;
mod maximise;
mod moments;
mod outcomes;
mod prediction;
mod term;

pub mod concordance;
pub mod cox;
pub mod fine_gray;

pub use counting::{
    Clock, CountingRow, SplitRow, SubjectEvents, counting_rows, counting_sample, split_follow_up,
};
pub use covariates::{Covariate, Covariates};
pub use logistic::{LogisticFit, LogisticNote, LogisticOptions, Penalty, logistic};
pub use outcomes::BinaryOutcomes;
pub use prediction::{Calibration, c_statistic, calibration};
pub use term::{CoefficientCovariance, Estimability, INTERCEPT, ModelTest, Term};

pub(crate) use cluster::{ClusterIndex, cluster_variance, outer_square, summed_by_cluster};
pub(crate) use covariates::Standardised;
pub(crate) use linear::{Cholesky, SquareMatrix};
pub(crate) use maximise::{Convergence, Evaluation, Maximum, estimability, maximise};
pub(crate) use term::{TermStates, require_finite, wald_test};
