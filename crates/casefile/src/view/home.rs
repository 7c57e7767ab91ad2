//! What happened at home, replies, and wishes that something be forgotten.

use units::{Ask, AskId, Practised, PractisedId, Reply, SetUpCheck};

use super::readable;
use crate::bounds;
use crate::merged::Merged;
use crate::packed::{unpack_ask, unpack_practised, unpack_reply, unpack_setup};

pub(super) fn all_practised(
    merged: &Merged<'_>,
    newer: &mut bool,
) -> impl Iterator<Item = Practised> {
    merged
        .records_under("practised/")
        .filter_map(|id| practised(merged, id.parse().ok()?, newer))
}

pub(crate) fn practised(
    merged: &Merged<'_>,
    id: PractisedId,
    newer: &mut bool,
) -> Option<Practised> {
    if !merged.record(&format!("unpractised/{id}")).is_empty() {
        return None;
    }
    readable(
        merged.record(&format!("practised/{id}")),
        newer,
        |_, bytes| unpack_practised(id, bytes),
        |practised| bounds::practised(practised).is_ok(),
    )
}

pub(super) fn setups(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = SetUpCheck> {
    merged.records_under("setup/").filter_map(|id| {
        readable(
            merged.record(&format!("setup/{id}")),
            newer,
            |_, bytes| unpack_setup(id.parse().map_err(|_| super::Unreadable::Bad)?, bytes),
            |check| bounds::setup(check).is_ok(),
        )
    })
}

pub(super) fn replies(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = Reply> {
    merged.records_under("reply/").filter_map(|id| {
        readable(
            merged.record(&format!("reply/{id}")),
            newer,
            |author, bytes| {
                let id = id.parse().map_err(|_| super::Unreadable::Bad)?;
                unpack_reply(id, author, bytes)
            },
            |reply| bounds::reply(reply).is_ok(),
        )
    })
}

pub(super) fn asks(merged: &Merged<'_>, newer: &mut bool) -> impl Iterator<Item = Ask> {
    merged
        .records_under("ask/")
        .filter_map(|id| ask(merged, id.parse().ok()?, newer))
}

/// A wish that stands open.
pub(crate) fn ask(merged: &Merged<'_>, id: AskId, newer: &mut bool) -> Option<Ask> {
    if !merged.record(&format!("unask/{id}")).is_empty() {
        return None;
    }
    readable(
        merged.record(&format!("ask/{id}")),
        newer,
        |author, bytes| unpack_ask(id, author, bytes),
        |ask| bounds::ask(ask).is_ok(),
    )
}
