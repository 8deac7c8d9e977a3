//! Times known only to lie between two others.

mod active_set;
mod curvature;
mod drawn;
mod error_law;
mod innermost;
mod likelihood;
mod npmle;
mod prediction;
mod regression;
mod regression_likelihood;
mod sample;
mod self_consistent;
mod skyline;

pub use drawn::{DrawOptions, DrawnIncidence, DrawnPoint, drawn_incidence};
pub use error_law::Distribution;
pub use npmle::{EventFree, Mass, Npmle, NpmleNote, npmle};
pub use prediction::{PredictedQuantile, WeibullHazard};
pub use regression::{
    IntervalRegressionFit, IntervalRegressionNote, IntervalRegressionOptions, LOG_SCALE,
    interval_regression,
};
pub use sample::IntervalSample;
