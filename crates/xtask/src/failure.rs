//! Why a chore stopped.

use std::fmt;

/// What went wrong and what to do about it, each in one plain sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// What happened.
    pub what: String,
    /// What to do now; may be empty where the output above says it.
    pub what_to_do: String,
}

impl Failure {
    /// A failure from its two sentences.
    pub fn new(what: impl Into<String>, what_to_do: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            what_to_do: what_to_do.into(),
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Stopped: {}", self.what)?;
        if !self.what_to_do.is_empty() {
            write!(f, "\n{}", self.what_to_do)?;
        }
        Ok(())
    }
}

impl std::error::Error for Failure {}
