//! What the source of a crate may not reach for, beyond what its manifest tells.

use super::Violation;
use super::source::SourceFile;

/// A folder, what its code may not use, and why.
struct Rule {
    folder: &'static str,
    /// Parts of the standard library.
    never: &'static [&'static str],
    /// Crates that may come in through another but may not be called.
    never_crates: &'static [&'static str],
    why: &'static str,
}

const RULES: &[Rule] = &[
    Rule {
        folder: "crates/metrics/src/",
        never: &["fs", "net", "env", "process", "time"],
        never_crates: &["rand", "getrandom", "rayon"],
        why: "the same page must give the same reading everywhere: hand the value in from app",
    },
    Rule {
        folder: "crates/units/src/",
        never: &["fs", "net", "env", "process", "time", "thread"],
        never_crates: &[],
        why: "records are plain: hand the value in from app",
    },
    Rule {
        folder: "crates/casefile/src/",
        never: &["fs", "net", "env", "process", "time"],
        never_crates: &["rand", "getrandom", "rayon"],
        why: "documents know neither disk nor clock: hand the value in from app",
    },
    Rule {
        folder: "crates/store/src/",
        never: &["net", "process"],
        never_crates: &[],
        why: "the store keeps bytes on this device only",
    },
];

/// Every forbidden use in product code.
pub fn check(files: &[SourceFile]) -> Vec<Violation> {
    let mut broken = Vec::new();
    for rule in RULES {
        let inside = |file: &&SourceFile| {
            file.is_rust() && file.path.starts_with(rule.folder) && file.name() != "tests.rs"
        };
        for file in files.iter().filter(inside) {
            for (number, line) in file.product_lines() {
                for part in parts_of_std(line).filter(|part| rule.never.contains(part)) {
                    broken.push(Violation::new(
                        format!("{}:{number}", file.path),
                        format!("uses std::{part}; {}.", rule.why),
                    ));
                }
                for name in rule.never_crates.iter().filter(|name| calls(line, name)) {
                    broken.push(Violation::new(
                        format!("{}:{number}", file.path),
                        format!("uses {name}; {}.", rule.why),
                    ));
                }
            }
        }
    }
    broken
}

/// Whether a line names a path that starts with this crate.
fn calls(line: &str, name: &str) -> bool {
    line.match_indices(&format!("{name}::"))
        .any(|(at, _)| !line[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':'))
}

/// The first path segments after `std::` in a line: `std::fs::read` gives `fs`, and
/// `std::{fs, io::Read}` gives `fs` and `io`.
fn parts_of_std(line: &str) -> impl Iterator<Item = &str> {
    line.split("std::").skip(1).flat_map(|rest| {
        let list = rest.strip_prefix('{').unwrap_or(rest);
        let is_list = list.len() != rest.len();
        list.split(',')
            .take(if is_list { usize::MAX } else { 1 })
            .map(|part| {
                let part = part.trim_start();
                let end = part
                    .find(|c: char| !c.is_alphanumeric() && c != '_')
                    .unwrap_or(part.len());
                &part[..end]
            })
    })
}

#[cfg(test)]
mod tests {
    use super::super::source::told;
    use super::*;

    fn one(path: &str, text: &str) -> Vec<String> {
        told(check, path, text)
    }

    #[test]
    fn a_clock_in_the_measuring_is_named_with_its_line() {
        let found = one(
            "crates/metrics/src/ink.rs",
            "//! Ink.\nuse std::{cmp, time::Instant};\nfn a() { std::fs::read(\"x\"); }\n",
        );
        assert_eq!(
            found,
            [
                "crates/metrics/src/ink.rs:2: uses std::time; the same page must give the same \
                 reading everywhere: hand the value in from app.",
                "crates/metrics/src/ink.rs:3: uses std::fs; the same page must give the same \
                 reading everywhere: hand the value in from app.",
            ]
        );
    }

    #[test]
    fn chance_is_named() {
        let found = one("crates/metrics/src/ink.rs", "//! Ink.\nuse rand::Rng;\n");
        assert_eq!(found.len(), 1);
        assert!(
            found[0].starts_with("crates/metrics/src/ink.rs:2: uses rand;"),
            "{found:?}"
        );
        assert!(one("crates/metrics/src/ink.rs", "//! Ink.\nuse errand::Rng;\n").is_empty());
    }

    #[test]
    fn tests_comments_and_other_crates_are_let_be() {
        assert!(
            one(
                "crates/metrics/src/ink.rs",
                "// std::fs\n#[cfg(test)]\nuse std::fs;\n"
            )
            .is_empty()
        );
        assert!(one("crates/metrics/src/ink.rs", "use std::fmt;\n").is_empty());
        assert!(one("crates/store/src/lib.rs", "use std::fs;\n").is_empty());
    }
}
