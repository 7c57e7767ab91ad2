//! Carry files between devices, and what others may do to them on the way.

mod bounds;
mod damage;
mod hostile;
mod members;
mod memory;
mod order;
mod raw;
mod round;
mod shelf;
mod size;

use ed25519_dalek::SigningKey;
use sync::carry::{OpenError, Opened, Parcel, open, seal};
use sync::{BlobId, DeviceId};

const TUTOR: [u8; 32] = [1; 32];
const PARENT: [u8; 32] = [2; 32];
const TABLET: [u8; 32] = [3; 32];
const STRANGER: [u8; 32] = [9; 32];
const SCOPE: &[u8] = b"a book";
const ANY_SIZE: u64 = u64::MAX;

fn device(secret: &[u8; 32]) -> DeviceId {
    DeviceId(SigningKey::from_bytes(secret).verifying_key().to_bytes())
}

/// Who belongs to the scope in these tests.
fn member(from: DeviceId, scope: &[u8]) -> bool {
    [TUTOR, PARENT, TABLET]
        .iter()
        .any(|secret| device(secret) == from)
        && scope == SCOPE
}

fn open_as(secret: &[u8; 32], file: &[u8]) -> Result<Opened, OpenError> {
    open(file, secret, &member)
}

/// From the parent to the tutor, in one file.
fn post(parcel: &Parcel) -> Vec<u8> {
    let [file] = &seal(parcel, &PARENT, &[device(&TUTOR)], ANY_SIZE).unwrap()[..] else {
        panic!("more than one file");
    };
    file.clone()
}

/// Bytes that do not shrink, as those of a photograph.
fn noise(seed: u8, length: usize) -> Vec<u8> {
    let mut bytes = vec![0; length];
    blake3::Hasher::new_keyed(&[seed; 32])
        .finalize_xof()
        .fill(&mut bytes);
    bytes
}

fn blob(seed: u8, length: usize) -> (BlobId, Vec<u8>) {
    let bytes = noise(seed, length);
    (BlobId(*blake3::hash(&bytes).as_bytes()), bytes)
}

/// A little of everything.
fn small() -> Parcel {
    Parcel {
        scope: SCOPE.to_vec(),
        made: 1_750_000_000_000,
        have: vec![(b"home".to_vec(), 12), (b"tutor".to_vec(), 300)],
        wants: vec![BlobId([5; 32])],
        wants_more: true,
        changes: vec![noise(1, 40), Vec::new(), noise(2, 3)],
        blobs: vec![blob(3, 50), blob(4, 0)],
    }
}
