//! What would have been expected of these ulcers: by published severity strata, or by what the practice saw before.
//!
//! Everything here works on plain items, chances and yes-or-no outcomes; the measures give the people. An expectation
//! describes a group. It is no prognosis for a person, and a difference from it does not show that care caused it.

mod compare;
mod own_model;
mod refusal;
mod severity;

pub(crate) use compare::Judged;
pub(crate) use compare::{Comparison, compare};
pub(crate) use own_model::{OwnModel, calibration_of, own_model, recalibrate};
pub(crate) use refusal::Refusal;
pub(crate) use severity::{SeverityItems, expected_healing_at_20_weeks, severity_items};
