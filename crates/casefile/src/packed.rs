//! Records as compact bytes: a version, then the fields in postcard's encoding.
//!
//! These shapes are the stored form and change only together with [`VERSION`].

mod amend;
mod focus;
mod home;
mod mark;
mod page;
mod reading;
mod ruling;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::codes::Code;

pub(crate) use amend::{pack_amendment, unpack_amendment};
pub(crate) use focus::{pack_focus, unpack_focus};
pub(crate) use home::{
    pack_ask, pack_practised, pack_reply, pack_setup, pack_target, unpack_ask, unpack_practised,
    unpack_reply, unpack_setup, unpack_target,
};
pub(crate) use mark::{pack_mark, unpack_mark};
pub(crate) use page::{pack_page, unpack_page};
pub(crate) use reading::{StoredReading, pack_reading, unpack_reading};
pub(crate) use ruling::{pack_ruling, unpack_ruling};

const VERSION: u8 = 1;

/// Why stored bytes are left out of the view.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unreadable {
    /// Written by a newer version of the program.
    Newer,
    /// Not written by this program at all.
    Bad,
}

type Unpacked<T> = Result<T, Unreadable>;

fn pack(fields: &impl Serialize) -> Vec<u8> {
    // Writing plain fields to memory cannot fail.
    postcard::to_extend(fields, vec![VERSION]).unwrap_or_default()
}

fn unpack<T: DeserializeOwned>(bytes: &[u8]) -> Unpacked<T> {
    let (&version, fields) = bytes.split_first().ok_or(Unreadable::Bad)?;
    if version > VERSION {
        return Err(Unreadable::Newer);
    }
    match postcard::take_from_bytes(fields) {
        Ok((value, [])) => Ok(value),
        _ => Err(Unreadable::Bad),
    }
}

fn choice<T: Code>(code: u8) -> Unpacked<T> {
    T::from_code(code).ok_or(Unreadable::Newer)
}
