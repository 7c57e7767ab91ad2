//! The licences of what the product is built from.

use spdx::{Expression, LicenseReq, ParseMode};

use super::Violation;
use super::graph::Graph;

/// Licences that anything may have: permissive, and the two whose copyleft stays in their own files.
const ALLOWED: &[&str] = &[
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "BSD-1-Clause",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "0BSD",
    "ISC",
    "Zlib",
    "BSL-1.0",
    "CC0-1.0",
    "Unlicense",
    "Unicode-3.0",
    "BlueOak-1.0.0",
    "MPL-2.0",
    "OFL-1.1",
];

/// A package that may have one more licence, and why.
struct Exception {
    package: &'static str,
    licence: &'static str,
    why: &'static str,
}

const EXCEPTIONS: &[Exception] = &[
    Exception {
        package: "sqlcipher-src",
        licence: "blessing",
        why: "SQLite itself: in the public domain, with a blessing in the place of a licence",
    },
    Exception {
        package: "sqlcipher-src",
        licence: "WTFPL",
        why: "the ciphers inside it: in the public domain, or under a licence without conditions",
    },
    Exception {
        package: "webpki-roots",
        licence: "CDLA-Permissive-2.0",
        why: "a list of certificate authorities, licensed as data",
    },
    Exception {
        package: "webpki-root-certs",
        licence: "CDLA-Permissive-2.0",
        why: "a list of certificate authorities, licensed as data",
    },
];

/// Every package from outside whose licence is not allowed.
pub fn check(graph: &Graph) -> Vec<Violation> {
    graph
        .packages
        .iter()
        .filter_map(|package| {
            complaint(&package.name, package.license.as_deref())
                .map(|what| Violation::new(format!("{} {}", package.name, package.version), what))
        })
        .collect()
}

/// What is wrong with a package's licence, if anything is.
pub fn complaint(package: &str, licence: Option<&str>) -> Option<String> {
    const WHAT_TO_DO: &str = "Use another package, or add a named exception with its reason to \
                              crates/xtask/src/tidy/licences.rs.";
    let Some(text) = licence else {
        return Some(format!("states no licence. {WHAT_TO_DO}"));
    };
    let Ok(expression) = Expression::parse_mode(text, ParseMode::LAX) else {
        return Some(format!(
            "its licence “{text}” is no SPDX expression. {WHAT_TO_DO}"
        ));
    };
    if expression.evaluate(|licence| is_allowed(package, licence)) {
        return None;
    }
    Some(format!("its licence {text} is not allowed. {WHAT_TO_DO}"))
}

fn is_allowed(package: &str, licence: &LicenseReq) -> bool {
    let Some(id) = licence.license.id() else {
        return false;
    };
    let excepted = EXCEPTIONS.iter().any(|exception| {
        debug_assert!(!exception.why.is_empty());
        exception.package == package && exception.licence == id.name
    });
    ALLOWED.contains(&id.name) || excepted
}

#[cfg(test)]
mod tests {
    use super::super::graph::fake::workspace;
    use super::*;

    #[test]
    fn permissive_expressions_pass() {
        for text in [
            "MIT",
            "MIT/Apache-2.0",
            "(MIT OR Apache-2.0) AND Unicode-3.0",
            "Apache-2.0 WITH LLVM-exception",
            "MIT OR GPL-3.0-only",
            "MPL-2.0",
        ] {
            assert_eq!(complaint("some-package", Some(text)), None, "{text}");
        }
    }

    #[test]
    fn others_are_named_with_what_to_do() {
        let said = complaint("some-package", Some("MIT AND GPL-3.0-only")).unwrap();
        assert!(said.starts_with("its licence MIT AND GPL-3.0-only is not allowed."));
        assert!(
            complaint("some-package", None)
                .unwrap()
                .starts_with("states no licence.")
        );
        let said = complaint("some-package", Some("ask me")).unwrap();
        assert!(said.contains("no SPDX expression"), "{said}");
    }

    #[test]
    fn an_exception_holds_for_its_package_only() {
        let data = Some("CDLA-Permissive-2.0");
        assert_eq!(complaint("webpki-roots", data), None);
        assert!(complaint("some-package", data).is_some());
    }

    #[test]
    fn a_wrong_licence_in_the_graph_is_one_line() {
        let mut graph = workspace(&[("units", &["copyleft"])]);
        graph.packages[1].license = Some("AGPL-3.0-or-later".into());
        let found = check(&graph);
        assert_eq!(found.len(), 1);
        assert!(
            found[0]
                .0
                .starts_with("copyleft 1.0.0: its licence AGPL-3.0-or-later")
        );
    }
}
