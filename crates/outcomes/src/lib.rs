//! What a visit, an ulcer episode and a measure *mean*.
//!
//! The stages are modules named by their verb: `check`, `derive`, `measure`, `analyse`. Each is a function
//! from data to data. This crate opens no file, reads no clock and prints nothing.

pub mod analyse;
mod blocks;
pub mod check;
mod coded;
pub mod dataset;
pub mod derive;
pub mod disclose;
mod expectation;
pub mod extract;
pub mod finding;
pub mod grade;
pub mod measure;
mod monitor;
pub mod report;
pub mod rules;
pub mod tables;
