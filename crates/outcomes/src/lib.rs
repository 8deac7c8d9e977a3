//! What a visit, an ulcer episode and a measure *mean*.
//!
//! The stages are modules named by their verb: [`mod@check`], [`mod@derive`], [`measure`], [`analyse`]. Each is a function
//! from data to data. This crate opens no file, reads no clock and prints nothing.
//!
//! ```
//! use chrono::NaiveDate;
//! use outcomes::check::check;
//! use outcomes::derive::{derive, in_reading_order};
//! use outcomes::measure::{Cohort, Study, evaluate, find_measure, prepare};
//! use outcomes::report::Value;
//! use outcomes::rules::{DataHorizon, Quarter, Rules};
//! use outcomes::tables::Tables;
//!
//! // What is known of an export: here nobody was seen in two years.
//! let tables = Tables::default();
//! let last = NaiveDate::from_ymd_opt(2024, 12, 31).unwrap();
//! let horizon = DataHorizon {
//!     data_start: NaiveDate::from_ymd_opt(2023, 1, 1).unwrap(),
//!     cut_off: last,
//!     deaths_known_to: last,
//!     procedures_known_to: last,
//! };
//! let rules = Rules::default();
//!
//! let (tables, findings) = check(in_reading_order(tables));
//! let people = derive(&tables, &rules, &horizon);
//! let study = Study { people: &people, rules: &rules, horizon: &horizon };
//! let measure = find_measure("healed-within-12-weeks").unwrap();
//! let quarter = Cohort::quarter(Quarter::parse("2024Q1").unwrap());
//! let results = evaluate(measure, &prepare(measure, &study), &study, &quarter);
//!
//! assert!(findings.is_empty());
//! // an absence is a value of its own, never a 0
//! assert!(matches!(results[0].value, Value::NotEstimable { .. }));
//! ```
//!
//! | Module | What it holds |
//! |---|---|
//! | [`tables`] | what every export becomes after load |
//! | [`mod@check`], [`finding`] | what cannot all be true at once, and what was noticed of which row |
//! | [`mod@derive`] | episodes, remissions, limbs, pathways, tiers, as known on a day |
//! | [`rules`] | every setting that can change a number, and the rules table |
//! | [`measure`] | what is counted, of whom, and how it is summarised |
//! | [`grade`] | clinical scales, with missing items as ranges |
//! | [`analyse`], [`report`] | every number and sentence of a page, as one plain value |
//! | [`disclose`] | the public copy, with small counts hidden |
//! | [`dataset`], [`extract`] | tables of plain cells, and the row-level ones |

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
