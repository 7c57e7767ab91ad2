//! What goes wrong, as the person at the screen is told it.

use serde::{Deserialize, Serialize};

/// A failure at the boundary: a stable code to sort by and two plain sentences.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "ts", derive(ts_rs::TS))]
#[serde(rename_all = "camelCase")]
pub struct Problem {
    /// Stable kebab-case name, for programs; never shown.
    pub code: String,
    /// What happened, in one plain sentence.
    pub message: String,
    /// What to do now, in one plain sentence.
    pub what_to_do: String,
}

impl Problem {
    /// A problem from its three parts.
    pub fn new(
        code: impl Into<String>,
        message: impl Into<String>,
        what_to_do: impl Into<String>,
    ) -> Self {
        Self {
            code: code.into(),
            message: message.into(),
            what_to_do: what_to_do.into(),
        }
    }
}

impl core::fmt::Display for Problem {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} {}", self.message, self.what_to_do)
    }
}

impl core::error::Error for Problem {}
