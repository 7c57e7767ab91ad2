//! Counting what test programs say of themselves.

/// How many checks passed and failed.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub struct Tally {
    /// Passed.
    pub passed: u32,
    /// Failed.
    pub failed: u32,
}

impl Tally {
    /// Adds the counts of a line such as `5 passed, 1 failed` or cargo's `5 passed; 1 failed`;
    /// other lines change nothing.
    pub fn read(&mut self, line: &str) {
        let counted = |word: &str| -> Option<u32> {
            let before = line[..line.find(word)?].trim_end();
            let digits = before.rsplit(|c: char| !c.is_ascii_digit()).next()?;
            digits.parse().ok()
        };
        if let (Some(passed), Some(failed)) = (counted(" passed"), counted(" failed")) {
            self.passed += passed;
            self.failed += failed;
        }
    }

    /// Both counts of two tallies together.
    pub fn and(self, other: Self) -> Self {
        Self {
            passed: self.passed + other.passed,
            failed: self.failed + other.failed,
        }
    }
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} passed, {} failed", self.passed, self.failed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_cargo_lines_and_plain_lines_and_nothing_else() {
        let mut tally = Tally::default();
        for line in [
            "test result: ok. 12 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out",
            "4 passed, 1 failed",
            "ok 7 the page was marked",
            "he passed and she failed",
            "",
        ] {
            tally.read(line);
        }
        assert_eq!(tally.to_string(), "16 passed, 1 failed");
    }
}
