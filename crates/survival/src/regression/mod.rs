//! Regression: how the hazard, the incidence or the odds of an event move with covariates.
//!
//! Every fit gives its terms by name, says of each whether the rows could estimate it, and never prints a
//! number that only reflects where an iteration happened to stop. Covariates are centred and scaled inside
//! for stability; everything that comes out is on the scale that went in.

mod cluster;
mod covariates;
mod fenwick;
mod linear;
mod maximise;
mod moments;
mod term;

pub mod concordance;
pub mod cox;
pub mod fine_gray;

pub use covariates::{Covariate, Covariates};
pub use term::{CoefficientCovariance, Estimability, ModelTest, Term};

pub(crate) use cluster::{ClusterIndex, cluster_variance, summed_by_cluster};
pub(crate) use covariates::Standardised;
pub(crate) use linear::{Cholesky, SquareMatrix};
pub(crate) use maximise::{Evaluation, Maximum, estimability, maximise};
pub(crate) use term::{describe_terms, wald_test};
