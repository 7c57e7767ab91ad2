//! The text of the repository's files, and what every Rust file must have.

use std::path::Path;

use super::Violation;
use crate::failure::Failure;
use crate::step::Step;

/// One file of the repository.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// Its path from the root, with `/`.
    pub path: String,
    /// Its text; empty where it is not text.
    pub text: String,
}

impl SourceFile {
    /// A file from its two parts.
    pub fn new(path: &str, text: &str) -> Self {
        Self {
            path: path.into(),
            text: text.into(),
        }
    }

    /// The name without its folder.
    pub fn name(&self) -> &str {
        self.path.rsplit('/').next().unwrap_or(&self.path)
    }

    /// Whether it is Rust.
    pub fn is_rust(&self) -> bool {
        self.path.ends_with(".rs")
    }

    /// The lines of a Rust file that are built into the product: without comments, and without the
    /// tests at its end.
    pub fn product_lines(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text
            .lines()
            .enumerate()
            .take_while(|(_, line)| {
                !line.starts_with("#[cfg(test)]") && !line.starts_with("#[cfg(all(test")
            })
            .map(|(index, line)| (index + 1, line.split("//").next().unwrap_or(line)))
    }
}

/// Every file that git knows or would take.
pub fn committed(root: &Path) -> Result<Vec<SourceFile>, Failure> {
    let list = Step::new("git ls-files", "git")
        .args([
            "ls-files",
            "-z",
            "--cached",
            "--others",
            "--exclude-standard",
        ])
        .output()?;
    Ok(list
        .split('\0')
        .filter(|path| !path.is_empty())
        .filter_map(|path| {
            // A file that was deleted and not yet committed is not there to be read.
            let bytes = std::fs::read(root.join(path)).ok()?;
            let text = String::from_utf8(bytes).unwrap_or_default();
            Some(SourceFile::new(path, &text))
        })
        .collect())
}

/// Every Rust file opens with `//!`, every crate says what it may not know, and no file is called
/// `mod.rs`.
pub fn check(files: &[SourceFile]) -> Vec<Violation> {
    let mut broken = Vec::new();
    for file in files.iter().filter(|file| file.is_rust()) {
        if !file.text.starts_with("//!") {
            broken.push(Violation::new(
                &file.path,
                "does not open with a `//!` line. Say in one sentence what the file is for.",
            ));
        }
        if is_head(&file.path) && !file.text.contains("**May not know:**") {
            broken.push(Violation::new(
                &file.path,
                "the head of this crate does not say what it may not know. Add a line \
                 `//! **May not know:** …`.",
            ));
        }
        if file.name() == "mod.rs" {
            broken.push(Violation::new(
                &file.path,
                "is called mod.rs. Name it after its folder, beside the folder.",
            ));
        }
    }
    broken
}

fn is_head(path: &str) -> bool {
    let parts: Vec<&str> = path.split('/').collect();
    let (folder, file) = match parts[..] {
        ["crates", _, folder, file] | [_, folder, file] => (folder, file),
        _ => return false,
    };
    // Beside a library, main.rs is only its door.
    folder == "src"
        && (file == "lib.rs"
            || path.ends_with("/xtask/src/main.rs")
            || path.ends_with("/pothook/src/main.rs"))
}

/// The lines that a check prints about one file.
#[cfg(test)]
pub(super) fn told(
    check: fn(&[SourceFile]) -> Vec<Violation>,
    path: &str,
    text: &str,
) -> Vec<String> {
    let found = check(&[SourceFile::new(path, text)]);
    found.into_iter().map(|violation| violation.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(path: &str, text: &str) -> Vec<String> {
        told(check, path, text)
    }

    #[test]
    fn a_file_without_a_head_is_named() {
        let found = one("crates/store/src/keys.rs", "use std::fs;\n");
        assert_eq!(found.len(), 1);
        assert!(found[0].starts_with("crates/store/src/keys.rs: does not open with a `//!` line."));
        assert!(one("crates/store/src/keys.rs", "//! Keys.\n").is_empty());
    }

    #[test]
    fn a_crate_that_does_not_say_what_it_may_not_know_is_named() {
        for path in [
            "crates/store/src/lib.rs",
            "src-tauri/src/lib.rs",
            "tests/src/lib.rs",
        ] {
            assert_eq!(one(path, "//! Bytes.\n").len(), 1, "{path}");
            assert!(one(path, "//! **May not know:** anything.\n").is_empty());
        }
        assert!(one("src-tauri/src/main.rs", "//! The door.\n").is_empty());
    }

    #[test]
    fn mod_rs_is_named() {
        assert_eq!(
            one("crates/app/src/pairing/mod.rs", "//! Pairing.\n").len(),
            1
        );
    }

    #[test]
    fn tests_and_comments_are_no_product_lines() {
        let file = SourceFile::new("a.rs", "one // two\n#[cfg(test)]\nmod tests {}\n");
        let lines: Vec<_> = file.product_lines().collect();
        assert_eq!(lines, [(1, "one ")]);
    }
}
