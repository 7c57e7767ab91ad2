//! What may lie at the top of the repository.

use std::path::Path;

use super::Violation;
use crate::failure::Failure;

const ALLOWED: &[&str] = &[
    "CHANGELOG.md",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "crates",
    "demo",
    "rustfmt.toml",
    "src-tauri",
    "target",
    "tests",
    "ui",
];

/// Everything at the top that has no place there. Dot files and dot folders are let be.
pub fn check(root: &Path) -> Result<Vec<Violation>, Failure> {
    let entries = std::fs::read_dir(root).map_err(|error| {
        Failure::new(
            format!("{} could not be read: {error}.", root.display()),
            "Run this from a checkout of the repository.",
        )
    })?;
    let names = entries
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned());
    Ok(strangers(names))
}

fn strangers(names: impl Iterator<Item = String>) -> Vec<Violation> {
    names
        .filter(|name| !name.starts_with('.') && !ALLOWED.contains(&name.as_str()))
        .map(|name| {
            Violation::new(
                &name,
                "has no place at the top of the repository. Move it into the folder it belongs \
                 to, or delete it.",
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stray_file_at_the_top_is_named() {
        let names = ["Cargo.toml", ".ci", "notes.txt"].map(String::from);
        let found = strangers(names.into_iter());
        assert_eq!(found.len(), 1);
        assert!(found[0].0.starts_with("notes.txt: has no place"));
    }
}
