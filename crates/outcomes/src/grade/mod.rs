//! Clinical grading with three-valued logic: a missing item gives a range, never a zero.
//!
//! Grades describe groups of people for audit. They are not a prognosis for an individual.

mod area;
mod perfusion;
mod sinbad;
mod tier;
mod wifi;

pub use area::{AreaMethod, area_cm2, area_method};
pub use perfusion::{Perfusion, is_measured, ischaemia_grade, reduced_flow};
pub use sinbad::{SinbadItems, sinbad};
pub use tier::{TierItems, risk_tier};
pub use wifi::{expected_major_amputation, infection_grade, stage, wound_grade};

use serde::Serialize;

/// A grade that may be known only within a range; both ends are included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct GradeRange {
    /// Lowest grade the recorded items allow.
    pub lowest: u8,
    /// Highest grade the recorded items allow.
    pub highest: u8,
}

impl GradeRange {
    /// A grade that is known.
    pub const fn exactly(grade: u8) -> Self {
        Self {
            lowest: grade,
            highest: grade,
        }
    }

    /// A range; the ends may come in either order.
    pub const fn between(one: u8, other: u8) -> Self {
        if one <= other {
            Self {
                lowest: one,
                highest: other,
            }
        } else {
            Self {
                lowest: other,
                highest: one,
            }
        }
    }

    /// The smallest range that holds both.
    pub const fn joined(self, other: Self) -> Self {
        Self {
            lowest: if self.lowest < other.lowest {
                self.lowest
            } else {
                other.lowest
            },
            highest: if self.highest > other.highest {
                self.highest
            } else {
                other.highest
            },
        }
    }

    /// The grade, when it is known.
    pub const fn known(self) -> Option<u8> {
        if self.lowest == self.highest {
            Some(self.lowest)
        } else {
            None
        }
    }

    /// Whether the grade is at least `grade`; `None` when the range does not tell.
    pub const fn at_least(self, grade: u8) -> Option<bool> {
        if self.lowest >= grade {
            Some(true)
        } else if self.highest < grade {
            Some(false)
        } else {
            None
        }
    }
}

/// Three-valued "or": true when any is true, unknown when none is true and any is unknown.
pub fn any_of(items: &[Option<bool>]) -> Option<bool> {
    if items.contains(&Some(true)) {
        Some(true)
    } else if items.contains(&None) {
        None
    } else {
        Some(false)
    }
}
