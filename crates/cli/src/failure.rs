//! How a command ends when it cannot do what it was asked.

use std::fmt;

/// Why a command ended, and with which exit code.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The data stopped the run: exit code 1.
    Data(String),
    /// The command could not run: exit code 2.
    CannotRun(String),
}

impl Failure {
    /// A command that could not run, with advice.
    pub(crate) fn with_hint(fact: impl fmt::Display, hint: impl fmt::Display) -> Self {
        Self::CannotRun(format!("{fact}\nhint: {hint}"))
    }

    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Data(_) => 1,
            Self::CannotRun(_) => 2,
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Data(words) | Self::CannotRun(words) => f.write_str(words),
        }
    }
}

impl From<anyhow::Error> for Failure {
    fn from(error: anyhow::Error) -> Self {
        Self::CannotRun(format!("{error:#}"))
    }
}
