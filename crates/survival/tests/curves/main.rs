//! The curves against values made outside this project, hand-worked cases and properties.
#![allow(clippy::unwrap_used)]

mod bootstrap;
mod by_hand;
mod comparison;
mod distributions;
mod drawn;
mod incidence;
mod kaplan_meier;
mod mean_count;
mod occupancy;
mod properties;
mod restricted_mean;
mod row_order;
mod support;
