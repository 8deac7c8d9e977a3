//! What a rendered report must and must not do, on an invented report of an invented practice.
//!
//! Golden files under `tests/golden/` are refreshed by running the tests with `LIMBLEDGER_REFRESH=1`;
//! read the difference before keeping it.

#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod accessibility;
mod data;
mod equality;
mod extracted;
mod fixture;
mod fixture_figures;
mod golden;
mod hostile;
mod hostile_files;
mod paper;
mod poison;
mod privacy;
mod schema;
mod workbook;
