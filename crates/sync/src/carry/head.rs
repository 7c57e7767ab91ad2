//! The head of a part: what it is, for whom, and what its content will be.

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};
use units::DeviceId;

use super::{OpenError, PART_BYTES, RECIPIENTS, SCOPE_BYTES, WANTS};
use crate::Limits;
use crate::frame::{AtMost, Octets};
use crate::outline::GROUP;

/// Begins what is signed, and keeps a signature made here from meaning anything elsewhere.
pub(super) const MAGIC: &[u8; 13] = b"pothook/carry";
pub(super) const VERSION: u16 = 1;
/// Before the head: magic, version, length.
pub(super) const START: usize = MAGIC.len() + 2 + 4;
pub(super) const SIGNATURE: usize = 64;
/// Longest head.
pub(super) const HEAD_BYTES: usize = 2 << 20;
/// Most changes in one part.
pub(super) const CHANGES: usize = 65_536;
/// Most blobs in one part.
pub(super) const BLOBS: usize = 4096;
/// Most pieces in one part: the end of one blob and the beginning of another, as only
/// a blob that no part can hold is in pieces.
pub(super) const PIECES: usize = 2;
/// Longest outline: 32 bytes for each group of the largest blob.
pub(super) const OUTLINE: usize = 32 * (Limits::BLOB_BYTES as usize).div_ceil(GROUP);

/// All that is signed, but for magic and version.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Head {
    /// The sender's key. First, so that the signature can be checked before the rest is
    /// looked at.
    pub(super) from: [u8; 32],
    /// In ascending order.
    pub(super) to: AtMost<[u8; 32], RECIPIENTS>,
    pub(super) id: [u8; 16],
    /// From 1.
    pub(super) part: u16,
    pub(super) of: u16,
    pub(super) made: u64,
    pub(super) scope: Octets<SCOPE_BYTES>,
    pub(super) have: AtMost<(Octets<{ Limits::DOCUMENT_ID_BYTES }>, u64), { Limits::DOCUMENTS }>,
    pub(super) wants: AtMost<[u8; 32], WANTS>,
    pub(super) wants_more: bool,
    /// The length of each change.
    pub(super) changes: AtMost<u32, CHANGES>,
    /// The name and length of each whole blob.
    pub(super) blobs: AtMost<([u8; 32], u32), BLOBS>,
    pub(super) pieces: AtMost<PieceHead, PIECES>,
    /// BLAKE3 of the content.
    pub(super) content: [u8; 32],
}

/// What the head says of a piece of a blob.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct PieceHead {
    pub(super) id: [u8; 32],
    /// Of the whole blob.
    pub(super) length: u32,
    /// Where the piece begins.
    pub(super) from: u32,
    /// Of the piece.
    pub(super) bytes: u32,
    /// Of the whole blob.
    pub(super) outline: Octets<OUTLINE>,
}

impl Head {
    /// Everything that stands before the content.
    pub(super) fn sign(&self, key: &SigningKey) -> Vec<u8> {
        sign(&self.bytes(), key)
    }

    /// The head alone.
    pub(super) fn bytes(&self) -> Vec<u8> {
        postcard::to_stdvec(self).expect("plain data serialises")
    }

    /// Length of the content. No overflow: counts and lengths are bounded by their types.
    pub(super) fn content_bytes(&self) -> u64 {
        let changes = self.changes.0.iter().copied();
        let blobs = self.blobs.0.iter().map(|(_, length)| *length);
        let pieces = self.pieces.0.iter().map(|piece| piece.bytes);
        changes.chain(blobs).chain(pieces).map(u64::from).sum()
    }

    /// Reads what [`signed_by`] has found to be the sender's, and checks what a device
    /// that follows the rules never signs.
    pub(super) fn read(head: &[u8], from: DeviceId) -> Result<Self, OpenError> {
        let wrong = |what| OpenError::Malformed { from, what };
        let head = match postcard::take_from_bytes::<Self>(head) {
            Ok((head, [])) => head,
            _ => return Err(wrong("head")),
        };
        let change = |length: &u32| *length as usize <= Limits::CHANGE_BYTES;
        let blob = |length: u32| u64::from(length) <= Limits::BLOB_BYTES;
        if head.part == 0 || head.part > head.of {
            return Err(wrong("number of the part"));
        }
        if !head.changes.0.iter().all(change) {
            return Err(wrong("length of a change"));
        }
        if !head.blobs.0.iter().all(|(_, length)| blob(*length)) {
            return Err(wrong("length of a blob"));
        }
        if head.content_bytes() > PART_BYTES {
            return Err(wrong("length of the content"));
        }
        Ok(head)
    }
}

/// Magic, version, length, head and signature.
pub(super) fn sign(head: &[u8], key: &SigningKey) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(START + head.len() + SIGNATURE);
    bytes.extend(MAGIC);
    bytes.extend(VERSION.to_be_bytes());
    bytes.extend((head.len() as u32).to_be_bytes());
    bytes.extend(head);
    let signature = key.sign(&bytes);
    bytes.extend(signature.to_bytes());
    bytes
}

/// The length of the head that begins so.
pub(super) fn length(start: &[u8]) -> Result<usize, OpenError> {
    let Some(&[v, w, a, b, c, d]) = start.strip_prefix(MAGIC) else {
        return Err(OpenError::NotPost);
    };
    match u16::from_be_bytes([v, w]) {
        VERSION => {}
        0 => return Err(OpenError::NotPost),
        _ => return Err(OpenError::Newer),
    }
    let length = u32::from_be_bytes([a, b, c, d]) as usize;
    if length > HEAD_BYTES {
        return Err(OpenError::TooLarge { what: "head" });
    }
    Ok(length)
}

/// The device that the head names, if it signed all these bytes: start, head, signature.
pub(super) fn signed_by(bytes: &[u8]) -> Option<DeviceId> {
    let (signed, signature) = bytes.split_last_chunk::<SIGNATURE>()?;
    let from = signed.get(START..)?.first_chunk::<32>()?;
    let key = VerifyingKey::from_bytes(from).ok()?;
    // Strict: refuses keys and signatures of small order, for which more than one
    // message can be found.
    let valid = key.verify_strict(signed, &Signature::from_bytes(signature));
    valid.is_ok().then_some(DeviceId(*from))
}
