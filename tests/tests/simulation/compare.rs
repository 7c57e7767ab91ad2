//! What differs between two devices, in a line.

use std::fmt::Debug;

use casefile::{PupilView, Standing};

use crate::kept::Kept;
use crate::world::Outcome;

fn same<T: PartialEq + Debug>(what: &str, one: &T, other: &T) -> Outcome {
    match one == other {
        true => Ok(()),
        false => Err(format!("{what}: {one:?} and {other:?}")),
    }
}

pub fn standings(one: &Standing, other: &Standing) -> Outcome {
    same("who belongs", &one.members, &other.members)?;
    same("who was removed", &one.removed, &other.removed)?;
    same("the founding", &one.founding, &other.founding)?;
    same("all foundings", &one.foundings, &other.foundings)?;
    same("what is forgotten", &one.forgotten, &other.forgotten)?;
    same("the log", one, other)
}

pub fn views(one: &PupilView, other: &PupilView) -> Outcome {
    same("the profile", &one.profile, &other.profile)?;
    same("tasks", &one.tasks, &other.tasks)?;
    let ids = |view: &PupilView| view.pages.iter().map(|page| page.id).collect::<Vec<_>>();
    same("pages", &ids(one), &ids(other))?;
    for (one, other) in one.pages.iter().zip(&other.pages) {
        same("a page's text", &one.text, &other.text)?;
        same("a page's minutes", &one.minutes, &other.minutes)?;
        same("a page", one, other)?;
    }
    same("marks", &one.marks, &other.marks)?;
    same("amendments", &one.amendments, &other.amendments)?;
    same("focuses", &one.focuses, &other.focuses)?;
    same("targets", &one.targets, &other.targets)?;
    same("practice", &one.practised, &other.practised)?;
    same("replies", &one.replies, &other.replies)?;
    same("wishes", &one.asks, &other.asks)?;
    same("the books", one, other)
}

pub fn kept(one: &Kept, other: &Kept) -> Outcome {
    let counts = |kept: &Kept| {
        let docs = kept.docs.iter();
        let counts = docs.map(|(doc, changes)| (*doc, changes.len()));
        counts.collect::<Vec<_>>()
    };
    same("documents", &counts(one), &counts(other))?;
    same("blobs", &one.blobs, &other.blobs)?;
    match one.docs == other.docs {
        true => Ok(()),
        false => Err("documents of other bytes".to_owned()),
    }
}
