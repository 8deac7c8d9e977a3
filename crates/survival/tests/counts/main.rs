//! Counts, standardisation, funnels, charts and weights against values made outside this project.

#![allow(clippy::unwrap_used)]

mod any_input;
mod bootstraps;
mod charts;
mod contrasts;
mod funnels;
mod observed_expected;
mod properties;
mod proportions;
mod rates;
mod run_rules;
mod sums;
mod support;
mod weight_properties;
mod weighted_studies;
mod weights;
