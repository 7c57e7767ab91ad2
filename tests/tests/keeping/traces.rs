//! What is searched for in all that a device keeps.

use crate::people::{Device, holds};
use crate::photographs::middle;

/// Bytes by which something is known again, each with what it is.
#[derive(Default)]
pub struct Traces(Vec<(String, Vec<u8>)>);

impl Traces {
    /// Words as they were typed.
    pub fn words(&mut self, words: &str) {
        self.0.push((words.to_owned(), words.as_bytes().to_vec()));
    }

    /// Bytes from the middle of a picture or of a whole reading.
    pub fn blob(&mut self, what: &str, bytes: &[u8]) {
        self.0.push((what.to_owned(), middle(bytes).to_vec()));
    }

    pub fn all(&self) -> Vec<&str> {
        self.0.iter().map(|(what, _)| what.as_str()).collect()
    }

    /// What of it is in all that a device keeps.
    pub fn within(&self, everything: &[u8]) -> Vec<&str> {
        let kept = self.0.iter();
        let kept = kept.filter(|(_, bytes)| holds(everything, bytes));
        kept.map(|(what, _)| what.as_str()).collect()
    }

    pub fn on(&self, device: &Device) -> Vec<&str> {
        self.within(&device.everything())
    }
}
