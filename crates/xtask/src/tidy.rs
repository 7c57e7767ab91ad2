//! `cargo xtask tidy`: the rules that the project sets itself, checked from its own files.

mod fonts;
mod graph;
mod licences;
mod names;
mod npm_licences;
mod rooms;
mod size;
mod source;
mod star;
mod tree;

use crate::failure::Failure;
use crate::place;

/// One broken rule, as one line: where, what, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Violation(pub String);

impl Violation {
    fn new(place: impl std::fmt::Display, what: impl std::fmt::Display) -> Self {
        Self(format!("{place}: {what}"))
    }
}

/// Checks everything and prints each violation.
pub fn run() -> Result<(), Failure> {
    crate::step::announce("tidy");
    let root = place::root();
    let graph = graph::read()?;
    let files = source::committed(&root)?;
    let mut broken = Vec::new();
    broken.extend(star::check(&graph));
    broken.extend(licences::check(&graph));
    broken.extend(npm_licences::check(&files));
    broken.extend(tree::check(&root)?);
    broken.extend(names::check(&files));
    broken.extend(source::check(&files));
    broken.extend(rooms::check(&files));
    broken.extend(fonts::check(&files));
    broken.sort();
    broken.dedup();
    for remark in size::remarks(&files) {
        println!("look again  {remark}");
    }
    for Violation(line) in &broken {
        println!("broken      {line}");
    }
    if broken.is_empty() {
        println!(
            "   {} packages and {} files keep the rules",
            graph.packages.len(),
            files.len()
        );
        return Ok(());
    }
    Err(Failure::new(
        format!("tidy found {} broken rules.", broken.len()),
        "Each line above says what to do.",
    ))
}
