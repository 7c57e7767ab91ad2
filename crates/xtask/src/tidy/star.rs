//! The star: which crate may see which, and what each may not know.
//!
//! ```text
//! units ← {metrics, casefile, store, sync} ← app ← {phone ← {pothook, pothook-desktop}, demo}
//! ```

use super::Violation;
use super::graph::{Graph, Package};

/// One crate's place in the star.
struct Place {
    name: &'static str,
    /// Crates of the workspace that its code may see.
    sees: &'static [&'static str],
    /// Crates of the workspace that only its tests may see.
    tests_see: &'static [&'static str],
    /// Packages from outside that it may not reach, directly or through others.
    never: &'static [&'static str],
    /// Packages from outside that it may name; `None` for any that is not forbidden.
    only: Option<&'static [&'static str]>,
}

const STAR: &[Place] = &[
    Place {
        name: "units",
        sees: &[],
        tests_see: &[],
        never: &[],
        only: Some(&["serde", "ts-rs"]),
    },
    Place {
        name: "metrics",
        sees: &["units"],
        tests_see: &["demo"],
        never: &["tokio", "rusqlite", "iroh", "automerge"],
        only: None,
    },
    Place {
        name: "casefile",
        sees: &["units"],
        tests_see: &[],
        never: &["rusqlite", "iroh", "image", "tokio"],
        only: None,
    },
    Place {
        name: "store",
        sees: &["units"],
        tests_see: &[],
        never: &["automerge", "iroh", "image", "serde_json"],
        only: None,
    },
    Place {
        name: "sync",
        sees: &["units"],
        tests_see: &[],
        never: &["rusqlite", "automerge", "image"],
        only: None,
    },
    Place {
        name: "app",
        sees: &["units", "metrics", "casefile", "store", "sync"],
        tests_see: &["demo"],
        never: &["tauri", "axum"],
        only: None,
    },
    Place {
        name: "phone",
        // A part of both shells: a small port of its own, without what serves the local screens.
        sees: &["app"],
        tests_see: &[],
        never: &["tauri", "axum"],
        only: None,
    },
    Place {
        name: "pothook",
        sees: &["app", "phone"],
        tests_see: &["demo", "pothook-tests"],
        never: &["tauri"],
        only: None,
    },
    Place {
        name: "pothook-desktop",
        sees: &["app", "phone"],
        tests_see: &["pothook-tests"],
        never: &["axum"],
        only: None,
    },
    Place {
        name: "demo",
        // Pages are drawn, and described, without the use cases.
        sees: &["app", "units"],
        tests_see: &[],
        never: &["tauri", "axum"],
        only: None,
    },
    Place {
        name: "pothook-tests",
        // Its programs are stories that a test kills halfway; they use the product as a shell does.
        sees: &["app"],
        tests_see: &[
            "units", "metrics", "casefile", "store", "sync", "app", "demo", "pothook",
        ],
        never: &[],
        only: None,
    },
    Place {
        name: "same-bytes",
        sees: &["units", "metrics"],
        tests_see: &["demo"],
        never: &["tokio", "rusqlite", "iroh", "automerge"],
        only: Some(&["cpu-time", "serde", "serde_json"]),
    },
    Place {
        name: "xtask",
        sees: &[],
        tests_see: &[],
        never: &["tokio"],
        only: Some(&["serde", "serde_json", "spdx"]),
    },
];

/// A shell may not name what a leaf wraps: whatever it wants of it, it asks the app.
const SHELLS: &[&str] = &["phone", "pothook", "pothook-desktop"];
const WRAPPED_BY_LEAVES: &[&str] = &["automerge", "rusqlite", "iroh", "image", "imageproc"];

/// Every edge that the star does not have.
pub fn check(graph: &Graph) -> Vec<Violation> {
    let own: Vec<&str> = graph
        .members()
        .map(|package| package.name.as_str())
        .collect();
    let mut broken = Vec::new();
    for package in graph.members() {
        match STAR.iter().find(|place| place.name == package.name) {
            Some(place) => {
                broken.extend(named(package, place, &own));
                broken.extend(reached(graph, package, place));
            }
            None => broken.push(Violation::new(
                &package.name,
                "this crate has no place in the star. Give it one in \
                 crates/xtask/src/tidy/star.rs, with what it may not know, or put its code into \
                 the crate it belongs to.",
            )),
        }
    }
    broken
}

/// What the manifest names.
fn named(package: &Package, place: &Place, own: &[&str]) -> Vec<Violation> {
    let mut broken = Vec::new();
    for dependency in &package.dependencies {
        let name = dependency.name.as_str();
        let allowed =
            place.sees.contains(&name) || (dependency.is_dev() && place.tests_see.contains(&name));
        if own.contains(&name) && !allowed {
            broken.push(Violation::new(&package.name, edge_message(place, name)));
        }
        let foreign = !own.contains(&name) && !dependency.is_dev();
        if foreign && place.only.is_some_and(|only| !only.contains(&name)) {
            broken.push(Violation::new(
                &package.name,
                format!(
                    "names {name}, but may use only {} from outside. Take it out of its \
                     Cargo.toml.",
                    place.only.unwrap_or_default().join(", ")
                ),
            ));
        }
        if foreign && SHELLS.contains(&place.name) && WRAPPED_BY_LEAVES.contains(&name) {
            broken.push(Violation::new(
                &package.name,
                format!("a shell names {name}. Ask app for what is wanted of it instead."),
            ));
        }
    }
    broken
}

fn edge_message(place: &Place, other: &str) -> String {
    let sees = match place.sees {
        [] => "no crate of this workspace".to_string(),
        sees => format!("only {}", sees.join(", ")),
    };
    let how = if SHELLS.contains(&other) {
        "Nothing depends on a shell."
    } else if place.sees.contains(&"app") {
        "Ask app for it."
    } else {
        "Hand the value in as an argument from app, or move a plain record to units."
    };
    format!("may not depend on {other}: it sees {sees}. {how}")
}

/// What the code would be linked with.
fn reached(graph: &Graph, package: &Package, place: &Place) -> Vec<Violation> {
    let ways = graph.reach(package);
    place
        .never
        .iter()
        .filter_map(|never| ways.get(never).map(|way| (never, way)))
        .map(|(never, way)| {
            Violation::new(
                &package.name,
                format!("may not know {never}, but reaches it ({way}). Take that dependency out."),
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::graph::fake::workspace;
    use super::*;

    fn lines(crates: &[(&str, &[&str])]) -> Vec<String> {
        let mut lines: Vec<String> = check(&workspace(crates))
            .into_iter()
            .map(|violation| violation.0)
            .collect();
        lines.sort();
        lines
    }

    #[test]
    fn the_star_itself_is_allowed() {
        let star: &[(&str, &[&str])] = &[
            ("units", &["serde"]),
            ("metrics", &["units", "image"]),
            ("casefile", &["units", "automerge"]),
            ("store", &["units", "rusqlite"]),
            ("sync", &["units", "iroh", "tokio"]),
            ("app", &["units", "metrics", "casefile", "store", "sync"]),
            ("phone", &["app", "hyper"]),
            ("pothook", &["app", "phone", "axum"]),
            ("pothook-desktop", &["app", "phone", "tauri"]),
            ("demo", &["app"]),
        ];
        assert_eq!(lines(star), Vec::<String>::new());
    }

    #[test]
    fn a_leaf_that_sees_a_leaf_is_named() {
        assert_eq!(
            lines(&[
                ("units", &[]),
                ("store", &[]),
                ("metrics", &["units", "store"])
            ]),
            [
                "metrics: may not depend on store: it sees only units. Hand the value in as an \
              argument from app, or move a plain record to units."
            ]
        );
    }

    #[test]
    fn a_shell_that_sees_a_leaf_or_what_it_wraps_is_named() {
        let found = lines(&[
            ("app", &[]),
            ("store", &[]),
            ("pothook", &["app", "store", "rusqlite"]),
        ]);
        assert_eq!(
            found,
            [
                "pothook: a shell names rusqlite. Ask app for what is wanted of it instead.",
                "pothook: may not depend on store: it sees only app, phone. Ask app for it.",
            ]
        );
    }

    #[test]
    fn the_hub_may_not_see_a_shell() {
        let found = lines(&[("app", &["pothook"]), ("pothook", &[])]);
        assert_eq!(found.len(), 1);
        assert!(
            found[0].ends_with("Nothing depends on a shell."),
            "{found:?}"
        );
    }

    #[test]
    fn only_the_shells_see_the_phone_and_it_sees_only_the_hub() {
        let found = lines(&[
            ("store", &[]),
            ("app", &["phone"]),
            ("phone", &["app", "store", "image"]),
            ("pothook", &["app", "phone"]),
            ("demo", &["app", "phone"]),
        ]);
        assert_eq!(
            found,
            [
                "app: may not depend on phone: it sees only units, metrics, casefile, store, sync. Nothing \
                 depends on a shell.",
                "demo: may not depend on phone: it sees only app, units. Nothing depends on a shell.",
                "phone: a shell names image. Ask app for what is wanted of it instead.",
                "phone: may not depend on store: it sees only app. Ask app for it.",
            ]
        );
    }

    #[test]
    fn the_window_is_handed_no_web_server_through_the_phone() {
        let mut graph = workspace(&[
            ("app", &[]),
            ("phone", &["app", "axum"]),
            ("pothook-desktop", &["phone"]),
        ]);
        graph.workspace_members.retain(|member| member != "phone");
        assert_eq!(
            check(&graph),
            [Violation(
                "pothook-desktop: may not know axum, but reaches it (pothook-desktop → phone → axum). Take \
                 that dependency out."
                    .into()
            )]
        );
    }

    #[test]
    fn units_use_serde_only() {
        assert_eq!(
            lines(&[("units", &["serde", "image"])]),
            [
                "units: names image, but may use only serde, ts-rs from outside. Take it out of its \
              Cargo.toml."
            ]
        );
    }

    #[test]
    fn what_is_reached_through_another_is_found_with_its_way() {
        let mut graph = workspace(&[("units", &[]), ("metrics", &["units", "pictures"])]);
        graph.packages.extend(workspace(&[("tokio", &[])]).packages);
        graph.resolve.nodes.push(super::super::graph::Node {
            id: "pictures".into(),
            deps: vec![super::super::graph::Edge {
                pkg: "tokio".into(),
                dep_kinds: vec![super::super::graph::EdgeKind { kind: None }],
            }],
        });
        assert_eq!(
            check(&graph),
            [Violation(
                "metrics: may not know tokio, but reaches it (metrics → pictures → tokio). Take \
                 that dependency out."
                    .into()
            )]
        );
    }

    #[test]
    fn tests_may_see_what_code_may_not() {
        let mut graph = workspace(&[("demo", &[]), ("metrics", &["demo"])]);
        assert_eq!(check(&graph).len(), 1);
        graph.packages[1].dependencies[0].kind = Some("dev".into());
        graph.resolve.nodes[1].deps[0].dep_kinds[0].kind = Some("dev".into());
        assert_eq!(check(&graph), []);
    }

    #[test]
    fn a_crate_without_a_place_is_named() {
        let found = lines(&[("extras", &[])]);
        assert_eq!(found.len(), 1);
        assert!(found[0].starts_with("extras: this crate has no place in the star."));
    }
}
