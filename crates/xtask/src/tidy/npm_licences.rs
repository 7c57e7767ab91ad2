//! The licences of what the screens are built from, as npm's lock files state them.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::source::SourceFile;
use super::{Violation, licences};

#[derive(Deserialize)]
struct Lock {
    packages: BTreeMap<String, Locked>,
}

#[derive(Deserialize)]
struct Locked {
    license: Option<String>,
    #[serde(default)]
    dev: bool,
}

/// Every package of every committed lock file whose licence is not allowed. Packages that are only
/// tools of the build reach no user and are let be.
pub fn check(files: &[SourceFile]) -> Vec<Violation> {
    files
        .iter()
        .filter(|file| file.path.ends_with("package-lock.json"))
        .flat_map(|file| match serde_json::from_str::<Lock>(&file.text) {
            Ok(lock) => of_lock(&file.path, &lock),
            Err(error) => vec![Violation::new(
                &file.path,
                format!("cannot be read ({error}). Make it again with `npm install`."),
            )],
        })
        .collect()
}

fn of_lock(path: &str, lock: &Lock) -> Vec<Violation> {
    lock.packages
        .iter()
        .filter(|(place, package)| !place.is_empty() && !package.dev)
        .filter_map(|(place, package)| {
            let name = place.rsplit("node_modules/").next().unwrap_or(place);
            licences::complaint(name, package.license.as_deref())
                .map(|what| Violation::new(path, format!("{name}: {what}")))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shipped_package_with_a_wrong_licence_is_named() {
        let lock = r#"{ "packages": {
            "": { "name": "ui" },
            "node_modules/good": { "license": "MIT" },
            "node_modules/tool": { "license": "GPL-3.0-only", "dev": true },
            "node_modules/a/node_modules/bad": { "license": "GPL-3.0-only" }
        } }"#;
        let found = check(&[SourceFile::new("ui/package-lock.json", lock)]);
        assert_eq!(found.len(), 1);
        assert!(
            found[0]
                .0
                .starts_with("ui/package-lock.json: bad: its licence GPL-3.0-only"),
            "{found:?}"
        );
    }
}
