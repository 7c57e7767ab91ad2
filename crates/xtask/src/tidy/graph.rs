//! The packages of the workspace and everything they depend on, as `cargo metadata` tells it.

use std::collections::HashMap;

use serde::Deserialize;

use crate::failure::Failure;
use crate::step::Step;

/// The whole graph.
#[derive(Debug, Deserialize)]
pub struct Graph {
    /// Every package, of the workspace or not.
    pub packages: Vec<Package>,
    /// Ids of the workspace's own.
    pub workspace_members: Vec<String>,
    /// Who depends on whom.
    pub resolve: Resolve,
}

/// One package.
#[derive(Debug, Deserialize)]
pub struct Package {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// Its licence as an SPDX expression.
    pub license: Option<String>,
    /// The dependencies that its manifest names.
    pub dependencies: Vec<Dependency>,
}

/// A dependency named in a manifest.
#[derive(Debug, Deserialize)]
pub struct Dependency {
    /// The package's name.
    pub name: String,
    /// `None` for a normal one, else `dev` or `build`.
    pub kind: Option<String>,
}

impl Dependency {
    /// Whether only tests, examples and benches see it.
    pub fn is_dev(&self) -> bool {
        self.kind.as_deref() == Some("dev")
    }
}

/// The resolved edges.
#[derive(Debug, Deserialize)]
pub struct Resolve {
    /// One node a package.
    pub nodes: Vec<Node>,
}

/// A package's resolved dependencies.
#[derive(Debug, Deserialize)]
pub struct Node {
    /// The package's id.
    pub id: String,
    /// Its edges.
    pub deps: Vec<Edge>,
}

/// One resolved dependency.
#[derive(Debug, Deserialize)]
pub struct Edge {
    /// The id of the other package.
    pub pkg: String,
    /// For what it is needed.
    pub dep_kinds: Vec<EdgeKind>,
}

/// For what a dependency is needed.
#[derive(Debug, Deserialize)]
pub struct EdgeKind {
    /// `None` for a normal one, else `dev` or `build`.
    pub kind: Option<String>,
}

impl Graph {
    /// The packages of the workspace.
    pub fn members(&self) -> impl Iterator<Item = &Package> {
        self.packages
            .iter()
            .filter(|package| self.workspace_members.contains(&package.id))
    }

    /// Names of the packages that this one reaches through normal dependencies, each with the way
    /// there (`a → b → c`).
    pub fn reach<'a>(&'a self, from: &'a Package) -> HashMap<&'a str, String> {
        let names: HashMap<&str, &str> = self
            .packages
            .iter()
            .map(|package| (package.id.as_str(), package.name.as_str()))
            .collect();
        let nodes: HashMap<&str, &Node> = self
            .resolve
            .nodes
            .iter()
            .map(|node| (node.id.as_str(), node))
            .collect();
        let mut ways = HashMap::new();
        let mut waiting = vec![(from.id.as_str(), from.name.clone())];
        while let Some((id, way)) = waiting.pop() {
            for edge in nodes.get(id).map_or(&[][..], |node| &node.deps) {
                let normal = edge.dep_kinds.iter().any(|kind| kind.kind.is_none());
                let Some(&name) = names.get(edge.pkg.as_str()).filter(|_| normal) else {
                    continue;
                };
                if !ways.contains_key(name) {
                    let way = format!("{way} → {name}");
                    ways.insert(name, way.clone());
                    waiting.push((edge.pkg.as_str(), way));
                }
            }
        }
        ways
    }
}

/// Asks cargo.
pub fn read() -> Result<Graph, Failure> {
    let text = Step::cargo(&["metadata", "--quiet", "--format-version", "1"]).output()?;
    serde_json::from_str(&text).map_err(|error| {
        Failure::new(
            format!("What cargo metadata said could not be read: {error}."),
            "Use the cargo that rust-version in Cargo.toml names.",
        )
    })
}

#[cfg(test)]
pub mod fake {
    //! Small graphs for tests.

    use super::*;

    /// A workspace of these crates; each names its normal dependencies. Names that are not listed
    /// become packages from outside, without dependencies of their own.
    pub fn workspace(crates: &[(&str, &[&str])]) -> Graph {
        let edges = |deps: &[&str]| {
            deps.iter()
                .map(|name| Edge {
                    pkg: (*name).into(),
                    dep_kinds: vec![EdgeKind { kind: None }],
                })
                .collect()
        };
        let mut graph = Graph {
            packages: Vec::new(),
            workspace_members: Vec::new(),
            resolve: Resolve { nodes: Vec::new() },
        };
        for (name, deps) in crates {
            graph.packages.push(package(name, deps));
            graph.workspace_members.push((*name).into());
            graph.resolve.nodes.push(Node {
                id: (*name).into(),
                deps: edges(deps),
            });
        }
        for name in crates.iter().flat_map(|(_, deps)| deps.iter()) {
            if graph.packages.iter().all(|package| package.name != **name) {
                graph.packages.push(package(name, &[]));
            }
        }
        graph
    }

    fn package(name: &str, deps: &[&str]) -> Package {
        Package {
            id: name.into(),
            name: name.into(),
            version: "1.0.0".into(),
            license: Some("MIT".into()),
            dependencies: deps
                .iter()
                .map(|name| Dependency {
                    name: (*name).into(),
                    kind: None,
                })
                .collect(),
        }
    }
}
