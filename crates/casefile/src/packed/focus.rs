//! A focus period, without its end, which is kept beside it.

use serde::{Deserialize, Serialize};
use units::{Day, Focus, FocusId};

use super::{Unpacked, choice, pack, unpack};
use crate::codes::Code;

#[derive(Serialize, Deserialize)]
struct PackedFocus {
    aspect: u8,
    from: i32,
    try_this: String,
}

pub(crate) fn pack_focus(focus: &Focus) -> Vec<u8> {
    pack(&PackedFocus {
        aspect: focus.aspect.code(),
        from: focus.from.0,
        try_this: focus.try_this.clone(),
    })
}

pub(crate) fn unpack_focus(id: FocusId, bytes: &[u8]) -> Unpacked<Focus> {
    let packed: PackedFocus = unpack(bytes)?;
    Ok(Focus {
        id,
        aspect: choice(packed.aspect)?,
        from: Day(packed.from),
        to: None,
        try_this: packed.try_this,
    })
}
