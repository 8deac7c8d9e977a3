//! What the dates of the export are declared to be, as data.

use schemars::JsonSchema;
use serde::Serialize;

/// What the dates of the export are declared to be, and what that lets the report say. Empty where they are the days on which
/// things happened.
#[derive(Debug, Clone, Default, PartialEq, Eq, JsonSchema, Serialize)]
pub struct DatesDeclared {
    /// As the layout declares: `shifted`, `year-only` or `limited-data-set`.
    pub kind: String,
    /// The agreement under which a limited data set is used; not in the public copy.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub agreement: Option<String>,
    /// What that means for the figures, a sentence each.
    pub says: Vec<String>,
    /// What is left out for it, with the reason, a sentence each.
    pub withheld: Vec<String>,
}

impl DatesDeclared {
    /// Whether nothing has to be said.
    pub fn is_plain(&self) -> bool {
        self.kind.is_empty()
    }
}
