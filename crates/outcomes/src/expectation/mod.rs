//! What would have been expected of these ulcers: by published severity strata, or by what the practice saw before.
//!
//! Everything here works on plain items, chances and yes-or-no outcomes; the measures give the people. An expectation
//! describes a group. It is no prognosis for a person, and a difference from it does not show that care caused it.

mod compare;
mod own_model;
mod refusal;
mod severity;

pub use compare::{Comparison, Judged, compare};
pub use own_model::{OwnModel, Recalibration, calibration_of, own_model, recalibrate};
pub use refusal::Refusal;
pub use severity::{
    SeverityItems, expected_healing_at_20_weeks, is_grade_3_or_more, is_older_than_2_months,
    severity_items,
};
