//! Clinical grading with three-valued logic: a missing item gives a range, never a zero.
//!
//! Grades describe groups of people for audit. They are not a prognosis for an individual.

mod area;
mod area_change;
mod infection;
mod perfusion;
mod perfusion_words;
pub mod scale;
mod sinbad;
mod texas;
mod tier;
mod trigger;
mod wagner;
mod wifi;
mod wifi_benefit;
mod wound;

pub use area::{AreaMethod, area_cm2, area_from_lengths_cm2, area_method, perimeter_cm};
pub use area_change::{
    FOUR_WEEK_WINDOW, Outline, SMALLEST_FIRST_AREA_CM2, area_reduction_percent, edge_advance_cm,
    ellipse_perimeter_cm, exponential_rate_per_week, four_week_reading,
};
pub use infection::{
    CriteriaCount, InfectionCriteria, InfectionGraded, InfectionSigns, SystemicSigns,
    grade_infection, local_signs, systemic_criteria,
};
pub use perfusion::{Perfusion, as_charted, is_measured, ischaemia_grade, reduced_flow};
pub use perfusion_words::{
    AbiCategory, PressureCategory, TbiCategory, abi_category, is_arterial_disease_less_likely,
    oxygen_category, tbi_category, toe_category,
};
pub use sinbad::{SinbadItems, sinbad};
pub use texas::{TexasItems, TexasStage, texas_grades, texas_stages};
pub use tier::{
    ScreeningInterval, TierItems, is_contradictory, possible_tiers, risk_tier, screening_interval,
};
pub use trigger::{Trigger, UrgentCutOffs, perfusion_triggers, urgent_cut_offs};
pub use wagner::{WagnerItems, wagner_grades};
pub use wifi::{expected_major_amputation, infection_grade, stage, wound_grade};
pub use wifi_benefit::{Benefit, benefit, possible_benefits};
pub use wound::{GangreneExtent, LesionDepth};

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

    /// The smallest range that holds every grade of a list; `None` for an empty list.
    pub fn spanning(grades: &[u8]) -> Option<Self> {
        let lowest = grades.iter().copied().min()?;
        let highest = grades.iter().copied().max()?;
        Some(Self { lowest, highest })
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

/// Every value a three-valued answer may have.
fn either(item: Option<bool>) -> &'static [bool] {
    match item {
        Some(true) => &[true],
        Some(false) => &[false],
        None => &[false, true],
    }
}

/// Three-valued "or": true when any is true, unknown when none is true and any is unknown.
pub fn any_of(items: &[Option<bool>]) -> Option<bool> {
    any_of_each(items.iter().copied())
}

/// The same of items that are in no list; of none "no".
pub(crate) fn any_of_each(items: impl Iterator<Item = Option<bool>>) -> Option<bool> {
    let mut any = Some(false);
    for item in items {
        match item {
            Some(true) => return Some(true),
            Some(false) => {}
            None => any = None,
        }
    }
    any
}
