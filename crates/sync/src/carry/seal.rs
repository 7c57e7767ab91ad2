//! A parcel into files.

use std::iter::once;

use ed25519_dalek::SigningKey;
use units::DeviceId;

use super::head::{BLOBS, CHANGES, Head, PIECES, SIGNATURE, START};
use super::parts::{self, Load};
use super::{PART_BYTES, Parcel, RECIPIENTS, SCOPE_BYTES, SealError, WANTS, envelope, keys};
use crate::Limits;
use crate::frame::{AtMost, Octets};

/// Makes a parcel into one or more files, none longer than `part_limit` bytes (nor than
/// [`PART_BYTES`]), for all the devices in `to`.
///
/// `secret` is the Ed25519 seed of the sending device, which signs them. The same parcel
/// makes the same parts, but never the same bytes: keys are drawn anew each time.
///
/// # Errors
///
/// See [`SealError`]; nothing is made then. A `part_limit` of 1 MiB is enough for any
/// usual parcel; below that, a long acknowledgement or a long change may not fit.
///
/// # Panics
///
/// If the system gives no random numbers.
pub fn seal(
    parcel: &Parcel,
    secret: &[u8; 32],
    to: &[DeviceId],
    part_limit: u64,
) -> Result<Vec<Vec<u8>>, SealError> {
    check(parcel)?;
    let mut to = to.to_vec();
    to.sort_unstable();
    to.dedup();
    if to.is_empty() {
        return Err(SealError::NoRecipient);
    }
    few("receiving devices", to.len(), RECIPIENTS)?;
    let key = |device: &DeviceId| keys::recipient(*device).ok_or(SealError::NoKey(*device));
    let recipients = to.iter().map(key).collect::<Result<Vec<_>, _>>()?;

    let signer = SigningKey::from_bytes(secret);
    let limit = part_limit.min(PART_BYTES);
    let mut head = blank(parcel, &signer, &to);
    head.id = id(&head, parcel, limit);
    let fixed = (START + SIGNATURE + head.bytes().len() + COUNTS) as u64;
    let too_small = |needed| SealError::PartTooSmall {
        limit,
        needed: envelope::longest(fixed + needed, to.len()),
    };
    let room = envelope::room(limit, to.len()).checked_sub(fixed);
    let room = room.ok_or(too_small(0))?;
    let loads = parts::pack(parcel, room).map_err(|error| too_small(error.needed))?;

    few("parts", loads.len(), u16::MAX.into())?;
    head.of = loads.len() as u16;
    let files = loads.iter().zip(1..).map(|(load, part)| {
        let start = Head {
            part,
            ..of(load, &head)
        }
        .sign(&signer);
        envelope::encrypt(&recipients, once(&start[..]).chain(load.runs()))
    });
    Ok(files.collect())
}

/// The counts of changes, blobs and pieces are longer than in an empty head by so much
/// at most.
const COUNTS: usize = 2 + 1;
const _: () = assert!(CHANGES < 1 << 21 && BLOBS < 1 << 14 && PIECES < 1 << 7);

fn check(parcel: &Parcel) -> Result<(), SealError> {
    short("scope", parcel.scope.len(), SCOPE_BYTES)?;
    few("documents", parcel.have.len(), Limits::DOCUMENTS)?;
    few("wanted blobs", parcel.wants.len(), WANTS)?;
    for (document, _) in &parcel.have {
        let most = Limits::DOCUMENT_ID_BYTES;
        short("name of a document", document.len(), most)?;
    }
    for change in &parcel.changes {
        short("change", change.len(), Limits::CHANGE_BYTES)?;
    }
    for (id, bytes) in &parcel.blobs {
        short("blob", bytes.len(), Limits::BLOB_BYTES as usize)?;
        if *blake3::hash(bytes).as_bytes() != id.0 {
            return Err(SealError::WrongBlob(*id));
        }
    }
    Ok(())
}

fn few(what: &'static str, count: usize, most: usize) -> Result<(), SealError> {
    let error = SealError::TooMany { what, count, most };
    if count > most { Err(error) } else { Ok(()) }
}

fn short(what: &'static str, bytes: usize, most: usize) -> Result<(), SealError> {
    let error = SealError::TooLarge { what, bytes, most };
    if bytes > most { Err(error) } else { Ok(()) }
}

/// A head without content, as long as one of any part.
fn blank(parcel: &Parcel, signer: &SigningKey, to: &[DeviceId]) -> Head {
    let have = parcel.have.iter();
    let have = have.map(|(document, count)| (Octets(document.clone()), *count));
    Head {
        from: signer.verifying_key().to_bytes(),
        to: AtMost(to.iter().map(|device| device.0).collect()),
        id: [0; 16],
        part: u16::MAX,
        of: u16::MAX,
        made: parcel.made,
        scope: Octets(parcel.scope.clone()),
        have: AtMost(have.collect()),
        wants: AtMost(parcel.wants.iter().map(|id| id.0).collect()),
        wants_more: parcel.wants_more,
        changes: AtMost(Vec::new()),
        blobs: AtMost(Vec::new()),
        pieces: AtMost(Vec::new()),
        content: [0; 32],
    }
}

/// A name for the parcel made of all that is in it.
fn id(blank: &Head, parcel: &Parcel, limit: u64) -> [u8; 16] {
    let mut hasher = blake3::Hasher::new_derive_key("pothook 2026 carry parcel 1");
    hasher.update(&blank.bytes()).update(&limit.to_be_bytes());
    hasher.update(&(parcel.changes.len() as u64).to_be_bytes());
    for change in &parcel.changes {
        hasher.update(&(change.len() as u64).to_be_bytes());
        hasher.update(change);
    }
    for (id, _) in &parcel.blobs {
        hasher.update(&id.0);
    }
    let mut id = [0; 16];
    hasher.finalize_xof().fill(&mut id);
    id
}

/// The head of a part that holds this.
fn of(load: &Load, blank: &Head) -> Head {
    let changes = load.changes.iter().map(|change| change.len() as u32);
    let blobs = load.blobs.iter();
    let blobs = blobs.map(|(id, bytes)| (id.0, bytes.len() as u32));
    let pieces = load.pieces.iter().map(|(head, _)| head.clone());
    let mut content = blake3::Hasher::new();
    for run in load.runs() {
        content.update(run);
    }
    Head {
        changes: AtMost(changes.collect()),
        blobs: AtMost(blobs.collect()),
        pieces: AtMost(pieces.collect()),
        content: *content.finalize().as_bytes(),
        ..blank.clone()
    }
}
