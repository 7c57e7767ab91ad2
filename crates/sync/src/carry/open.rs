//! A file into what is in it, or nothing.

use std::io::Read;

use ed25519_dalek::SigningKey;
use units::{BlobId, DeviceId};

use super::envelope::Plain;
use super::head::{self, Head, SIGNATURE, START};
use super::{OpenError, Opened, Parcel, Piece, keys};
use crate::outline::{GROUP, Outline};

/// Reads one file and gives what is in it, once all of it has been checked.
///
/// `secret` is the Ed25519 seed of this device. `expect` says whether a device belongs to
/// a scope; it is asked once, about a device that did sign the file, before any content
/// is read. `file` is read to its end, but no further than
/// [`PART_BYTES`](super::PART_BYTES); memory grows with what is read.
///
/// What comes out is what the sender signed, for this device and this scope, with all
/// blobs and pieces checked against their names. Whether the changes may be taken is for
/// the caller to say: here they are opaque.
///
/// # Errors
///
/// See [`OpenError`]. A file is taken whole or not at all.
pub fn open(
    file: impl Read,
    secret: &[u8; 32],
    expect: &dyn Fn(DeviceId, &[u8]) -> bool,
) -> Result<Opened, OpenError> {
    let mut plain = Plain::open(file, &keys::identity(secret))?;
    let mut signed = plain.next(START)?;
    let length = head::length(&signed)?;
    signed.extend(plain.next(length + SIGNATURE)?);
    let from = head::signed_by(&signed).ok_or(OpenError::Forged)?;
    let head = Head::read(&signed[START..START + length], from)?;
    let here = SigningKey::from_bytes(secret).verifying_key().to_bytes();
    if !head.to.0.contains(&here) {
        return Err(OpenError::PassedOn { from });
    }
    if !expect(from, &head.scope.0) {
        return Err(OpenError::Stranger { from });
    }
    plain.expect(signed.len() as u64 + head.content_bytes());
    let opened = content(head, from, &mut plain)?;
    check(opened)
}

/// What is read, not checked against names yet, and the outlines of its pieces.
type Unchecked = (Opened, Vec<Vec<u8>>);

/// Reads the content as the head says, and proves that it is what was signed.
fn content<R: Read>(
    head: Head,
    from: DeviceId,
    plain: &mut Plain<R>,
) -> Result<Unchecked, OpenError> {
    let mut hasher = blake3::Hasher::new();
    let mut next = |length: u32| {
        let bytes = plain.next(length as usize)?;
        hasher.update(&bytes);
        Ok(bytes)
    };
    let changes = head.changes.0.into_iter().map(&mut next);
    let changes = changes.collect::<Result<_, OpenError>>()?;
    let blobs = head.blobs.0.into_iter();
    let blobs = blobs.map(|(id, length)| Ok((BlobId(id), next(length)?)));
    let blobs = blobs.collect::<Result<_, OpenError>>()?;
    let pieces = head.pieces.0.into_iter().map(|piece| {
        let read = Piece {
            id: BlobId(piece.id),
            length: piece.length.into(),
            from: piece.from.into(),
            bytes: next(piece.bytes)?,
        };
        Ok((read, piece.outline.0))
    });
    let (pieces, outlines) = pieces.collect::<Result<_, OpenError>>()?;
    plain.end()?;
    if *hasher.finalize().as_bytes() != head.content {
        return Err(OpenError::Forged);
    }
    let have = head.have.0.into_iter();
    let parcel = Parcel {
        scope: head.scope.0,
        made: head.made,
        have: have.map(|(document, count)| (document.0, count)).collect(),
        wants: head.wants.0.into_iter().map(BlobId).collect(),
        wants_more: head.wants_more,
        changes,
        blobs,
    };
    let opened = Opened {
        from,
        to: head.to.0.into_iter().map(DeviceId).collect(),
        id: head.id,
        part: (head.part, head.of),
        parcel,
        pieces,
    };
    Ok((opened, outlines))
}

/// Checks blobs and pieces against their names. By now it is certain who is to blame.
fn check((opened, outlines): Unchecked) -> Result<Opened, OpenError> {
    let from = opened.from;
    let whole = |(id, bytes): &(BlobId, Vec<u8>)| *blake3::hash(bytes).as_bytes() == id.0;
    if !opened.parcel.blobs.iter().all(whole) {
        let what = "bytes of a blob";
        return Err(OpenError::Malformed { from, what });
    }
    if !opened
        .pieces
        .iter()
        .zip(outlines)
        .all(|(p, o)| is_of(p, &o))
    {
        let what = "bytes of a piece";
        return Err(OpenError::Malformed { from, what });
    }
    Ok(opened)
}

/// Whether a piece is whole groups of its blob, at their place.
fn is_of(piece: &Piece, outline: &[u8]) -> bool {
    let group = GROUP as u64;
    let to = piece.from + piece.bytes.len() as u64;
    let whole = to == piece.length || to < piece.length && to.is_multiple_of(group);
    if piece.bytes.is_empty() || !whole || !piece.from.is_multiple_of(group) {
        return false;
    }
    let Some(outline) = Outline::read(piece.id, piece.length as usize, outline) else {
        return false;
    };
    let mut groups = piece
        .bytes
        .chunks(GROUP)
        .zip((piece.from / group) as usize..);
    groups.all(|(bytes, at)| outline.fits(at, bytes))
}
