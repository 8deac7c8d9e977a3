//! End-to-end tests of the program, by feature.
#![allow(clippy::unwrap_used, reason = "tests")]

mod audit;
mod checks;
mod dates;
mod doors;
mod estimate;
mod example;
mod formats;
mod grade;
mod messages;
mod methods;
mod overlaps;
mod public;
mod public_attack;
mod quarterly;
mod simulator;
mod support;
mod tidy;
mod truth;
mod versions;
