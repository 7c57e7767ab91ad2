//! The carry file: what one device has for others, in encrypted files that anybody may
//! carry.
//!
//! For devices that do not meet over a network. [`seal`] makes one or more files of a
//! [`Parcel`], to be sent by whatever means the people have; [`open`] gives one file's
//! content back. The usual extension is `.pothook-post`. A file can be lost, repeated,
//! delayed or read in any order: each is a *part* that stands alone, carries the whole
//! acknowledgement, and is taken whole or not at all. Nothing here has state.
//!
//! # What is protected, and what is not
//!
//! Only the devices that a parcel is for can read it; its signature says from which
//! device it comes and covers for whom, for which scope and which part it is, so that
//! nobody can pass it on as if it were meant for another. A carrier sees the length, and
//! about how many devices it is for, but neither which nor from whom. A carrier can
//! withhold files and hand on old ones; taking an old one again must therefore change
//! nothing, which [`Parcel::made`] helps with. There is no forward secrecy: whoever gets
//! hold of a receiving device's key can read what was sent to it before.
//!
//! # The file
//!
//! An age file of version 1 (C2SP `age`), binary, with an X25519 recipient for each
//! receiving device; other kinds of recipients are not used, and files for a passphrase
//! are refused unread. A device's X25519 key is its Ed25519 key on the birationally
//! equivalent curve. Inside:
//!
//! | bytes | |
//! |---|---|
//! | 13 | `pothook/carry` |
//! | 2 | version, big-endian: 1 |
//! | 4 | length of the head, big-endian |
//! | … | head: postcard, the fields of the `head` module in their order, the sender's key first |
//! | 64 | the sender's Ed25519 signature over all bytes before it |
//! | … | content: the changes, whole blobs and pieces that the head lists, one after the other |
//!
//! The head says how long each of them is and what their BLAKE3 hash is. So all lengths
//! are known and bounded, and the signature is checked, before any content is read.
//! A blob that is too large for one part goes in pieces at borders of 64 KiB, each with
//! the blob's outline: the hashes of all its groups of 64 KiB, which join to the blob's
//! name.
//!
//! Nothing is compressed: photographs do not shrink, whole readings are deflated
//! already, and changes are a five-hundredth of what goes with one photograph.

mod envelope;
mod error;
#[cfg(any(test, feature = "fuzz"))]
mod fuzz;
mod head;
mod keys;
mod open;
mod parts;
mod seal;

use units::{BlobId, DeviceId};

use crate::Limits;

pub use error::{OpenError, SealError};
#[cfg(any(test, feature = "fuzz"))]
pub use fuzz::fuzz;
pub use open::open;
pub use seal::seal;

/// Longest scope, in bytes.
pub const SCOPE_BYTES: usize = 64;
/// Most devices that one parcel is for.
pub const RECIPIENTS: usize = 64;
/// Most blobs that one parcel asks for.
pub const WANTS: usize = 4096;
/// Largest file, in bytes, whatever limit is asked for.
pub const PART_BYTES: u64 = 64 << 20;

/// What one device has for others, within one scope.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Parcel {
    /// What all of it is about: opaque, at most [`SCOPE_BYTES`].
    pub scope: Vec<u8>,
    /// A number that is higher in each later parcel of one sender, such as the
    /// milliseconds since 1970. It tells an old acknowledgement that comes late from one
    /// of a device that had to begin anew from a backup, and so has less than before.
    pub made: u64,
    /// The sender's acknowledgement: each document, with how many of its changes it holds.
    pub have: Vec<(Vec<u8>, u64)>,
    /// Blobs that those changes name and the sender lacks, the most wanted first, at most
    /// [`WANTS`]. With `have` this acknowledges blobs too: what is named and not wanted
    /// is held. So no list of what is held need travel, which would only grow.
    pub wants: Vec<BlobId>,
    /// Whether the sender lacks more than `wants` says. Then what is not in it may be
    /// held or not.
    pub wants_more: bool,
    /// Changes, in the order in which they must be taken; each at most
    /// [`Limits::CHANGE_BYTES`].
    pub changes: Vec<Vec<u8>>,
    /// Whole blobs, the most important first; each at most [`Limits::BLOB_BYTES`].
    pub blobs: Vec<(BlobId, Vec<u8>)>,
}

/// Whole groups of 64 KiB of a blob that was too large for one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// The blob.
    pub id: BlobId,
    /// The blob's whole length in bytes, at most [`Limits::BLOB_BYTES`]. Told by the
    /// sender; proved only by the piece that holds the blob's end.
    pub length: u64,
    /// Where the piece begins in the blob: a multiple of 64 KiB.
    pub from: u64,
    /// The bytes, checked against the blob's name.
    pub bytes: Vec<u8>,
}

impl Piece {
    /// What this piece adds for a device that holds the first `held` bytes of the blob;
    /// `None` if it holds these already, or lacks some before them. Pieces overlap where
    /// a blob was split once in this way and once in that.
    pub fn after(&self, held: u64) -> Option<&[u8]> {
        let known = usize::try_from(held.checked_sub(self.from)?).ok()?;
        self.bytes.get(known..).filter(|rest| !rest.is_empty())
    }
}

/// One part, checked: who sent it, and what is in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opened {
    /// The device that made and signed it.
    pub from: DeviceId,
    /// All devices that it is for, this one among them, in ascending order.
    pub to: Vec<DeviceId>,
    /// The same in all parts of a parcel. The same parcel sealed again has the same.
    pub id: [u8; 16],
    /// Which part this is, from 1, and how many there are.
    pub part: (u16, u16),
    /// The whole acknowledgement, and the changes and blobs of this part. Blobs do hash
    /// to their names.
    pub parcel: Parcel,
    /// Pieces of larger blobs, in their order within each.
    pub pieces: Vec<Piece>,
}

// A file holds any blob, and any change.
const _: () = assert!(Limits::BLOB_BYTES <= PART_BYTES / 2);
const _: () = assert!(Limits::CHANGE_BYTES as u64 <= PART_BYTES / 2);
