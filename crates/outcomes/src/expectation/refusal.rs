//! Why nothing was estimated.

/// Why something was not estimated, in words that name the rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Refusal {
    /// A clause: `needs 8 mature quarters with a value, has 5`.
    pub reason: String,
}

impl Refusal {
    pub(crate) fn new(reason: impl Into<String>) -> Self {
        Self {
            reason: reason.into(),
        }
    }
}
