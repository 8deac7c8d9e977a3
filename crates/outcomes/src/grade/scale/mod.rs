//! Clinical scales for any plain table: which items a scale reads, how they may be written, and what it answers.
//!
//! A scale is one value in one file. The `grade` command, its help, `list scales` and `explain` are made from it.

mod answer;
mod area;
mod change;
mod graded;
mod infection;
mod item;
mod items;
mod perfusion;
mod risk_tier;
mod sinbad;
mod texas;
mod trigger;
mod wagner;
mod wifi;

pub use answer::{Answer, Answers, read_answer};
pub use graded::{Cell, Graded};
pub use item::{Item, ItemKind, OtherName, Spelling};

use super::InfectionCriteria;
use crate::rules::{AreaFormula, VascularGuideline};

/// A clinical scale that can be read from the columns of a table.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    /// Kebab-case id.
    pub id: &'static str,
    /// Other names it answers to.
    pub also: &'static [&'static str],
    /// Title.
    pub title: &'static str,
    /// What the column `grade` holds.
    pub words: &'static str,
    /// Cut-offs, what happens at equality, and what a missing item does; a sentence each.
    pub rules: &'static [&'static str],
    /// What it reads.
    pub items: &'static [Item],
    /// Columns it writes besides grade, lowest, highest and why.
    pub columns: &'static [ColumnWords],
    /// Where the definition comes from.
    pub source: &'static str,
    /// What the grade does not show.
    pub caution: &'static str,
    /// How a row, or a table, is graded.
    pub method: ScaleMethod,
}

/// A column that a scale writes, and what it holds.
#[derive(Debug, Clone, Copy)]
pub struct ColumnWords {
    /// Header.
    pub name: &'static str,
    /// What it holds.
    pub words: &'static str,
}

/// How a scale is applied.
#[derive(Debug, Clone, Copy)]
pub enum ScaleMethod {
    /// To each row by itself.
    Row(fn(&Answers<'_>, &GradeOptions) -> Graded),
    /// To all rows together, because a row needs the first one of its ulcer.
    Table(fn(&[Answers<'_>], &GradeOptions) -> Vec<Graded>),
}

/// Settings that change a grade; the defaults are the rules of this project.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GradeOptions {
    /// An ankle-brachial index above this measures nothing.
    pub abi_limit: f64,
    /// Decimals with which an index is charted and compared.
    pub index_decimals: u32,
    /// Edition of the vascular guideline.
    pub guideline: VascularGuideline,
    /// Edition of the infection criteria.
    pub infection_criteria: InfectionCriteria,
    /// How an area is made from length and width.
    pub area_formula: AreaFormula,
    /// First area in square cm below which no reduction is given.
    pub smallest_first_area_cm2: f64,
}

impl Default for GradeOptions {
    fn default() -> Self {
        Self {
            abi_limit: 1.3,
            index_decimals: 2,
            guideline: VascularGuideline::Year2023,
            infection_criteria: InfectionCriteria::Year2023,
            area_formula: AreaFormula::Ellipse,
            smallest_first_area_cm2: 0.2,
        }
    }
}

/// Every scale, in the order of `list scales`.
pub const SCALES: &[&Scale] = &[
    &risk_tier::SCALE,
    &sinbad::SCALE,
    &wifi::SCALE,
    &texas::SCALE,
    &wagner::SCALE,
    &infection::SCALE,
    &perfusion::SCALE,
    &trigger::SCALE,
    &area::SCALE,
    &change::REDUCTION,
    &change::EDGE_ADVANCE,
    &change::HEALING_RATE,
];

/// The scale with this id or other name.
pub fn find_scale(name: &str) -> Option<&'static Scale> {
    SCALES
        .iter()
        .copied()
        .find(|scale| scale.id == name || scale.also.contains(&name))
}

impl Scale {
    /// Grades every row of a table, in order.
    pub fn grade(&self, rows: &[Answers<'_>], options: &GradeOptions) -> Vec<Graded> {
        match self.method {
            ScaleMethod::Row(grade) => rows.iter().map(|row| grade(row, options)).collect(),
            ScaleMethod::Table(grade) => grade(rows, options),
        }
    }
}
