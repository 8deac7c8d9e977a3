//! Comparing groups that were not drawn by lot: propensity weights, balance, weighted curves and their uncertainty.
//!
//! Weights make groups alike in the covariates that were measured and modelled; they say nothing about the rest.

mod balance;
mod bootstrap;
mod contrast;
mod curves;
mod derivative;
mod effective_size;
mod estimated;
mod propensity;
mod redrawn;

pub use balance::{Balance, CovariateKind, standardised_difference};
pub use bootstrap::{BootstrapEstimate, BootstrapOptions, bootstrap_by_cluster};
pub use contrast::{Contrast, Estimate, Target, WeightUncertainty, weighted_contrast};
pub use curves::{WeightedCurve, WeightedIncidence, weighted_curves, weighted_incidence};
pub use effective_size::{EffectiveSize, effective_size};
pub use estimated::{PropensityModel, weighted_contrast_of_model};
pub use propensity::{
    Population, PropensityWeights, Truncation, WeightOptions, propensity_weights,
};
pub use redrawn::{DrawnContrast, bootstrap_contrasts};
