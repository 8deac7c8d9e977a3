//! Counts, standardisation, funnels and charts against values made outside this project.

#![allow(clippy::unwrap_used)]

mod charts;
mod funnels;
mod observed_expected;
mod properties;
mod proportions;
mod rates;
mod sums;
mod support;
