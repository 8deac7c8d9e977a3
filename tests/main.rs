//! End-to-end tests of the program, by feature.
#![allow(clippy::unwrap_used, reason = "tests")]

mod estimate;
mod example;
mod messages;
mod methods;
mod quarterly;
mod simulator;
mod support;
mod tidy;
