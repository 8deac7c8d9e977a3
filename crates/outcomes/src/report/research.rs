//! What researchers ask for: who was followed, and where reporting statements are answered.

use super::Count;
use schemars::JsonSchema;
use serde::Serialize;

/// Who was followed: what is known of ulcers and people at the first visit, by calendar year, missing values shown.
#[derive(Debug, Clone, Default, PartialEq, JsonSchema, Serialize)]
pub struct CohortTable {
    /// Calendar years, oldest first, then `all`.
    pub columns: Vec<String>,
    /// Groups of rows.
    pub groups: Vec<CohortGroup>,
}

impl CohortTable {
    /// Whether nobody is described.
    pub fn is_empty(&self) -> bool {
        self.groups.is_empty()
    }
}

/// One characteristic.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct CohortGroup {
    /// What is described, with its unit.
    pub title: String,
    /// Whether ulcers or people are described.
    pub of: String,
    /// One row a value, the last for what is not recorded.
    pub rows: Vec<CohortRow>,
}

/// One value of a characteristic in each column.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct CohortRow {
    /// The value, in words.
    pub label: String,
    /// One cell a column.
    pub cells: Vec<CohortCell>,
}

/// How many, or how a measured value is spread.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct CohortCell {
    /// How many have this value.
    pub n: Count,
    /// Out of how many.
    pub of: Count,
    /// First quartile, median and third quartile, where the row describes a measured value of at least one subject.
    pub quartiles: Option<[f64; 3]>,
    /// The cell as it is printed.
    pub words: String,
}

/// One thing that a statement on reporting studies asks for, and where this report answers it.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct ChecklistItem {
    /// The statement: `STROBE` or `RECORD`.
    pub statement: String,
    /// The number of the item in it.
    pub item: String,
    /// What it asks for, in our words.
    pub asks: String,
    /// Where to find it, or what people must add.
    pub answer: String,
    /// Whether only people can answer it.
    pub is_for_people: bool,
}
