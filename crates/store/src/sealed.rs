//! A blob's bytes as they stand in its file: sealed in chunks, so that one is read or written at a time.
//!
//! Each chunk holds 64 KiB, the last what is left, and is sealed under the blob's own key with a nonce
//! that counts the chunks and marks the last one. So a chunk that is cut off, moved or taken from
//! another file does not open (the STREAM construction of Hoang, Reyhanitabar, Rogaway and Vizár,
//! "Online Authenticated-Encryption and its Nonce-Reuse Misuse-Resistance", 2015). The key is used for
//! one file only, which is why the rest of the nonce may be nought.

use std::io::{self, Write};

use units::BlobId;

use crate::Key;
use crate::aead::{self, NONCE, TAG};

const CHUNK: usize = 64 << 10;

fn nonce(index: usize, last: bool) -> [u8; NONCE] {
    let mut nonce = [0; NONCE];
    nonce[NONCE - 9..NONCE - 1].copy_from_slice(&(index as u64).to_be_bytes());
    nonce[NONCE - 1] = last.into();
    nonce
}

/// Chunks of so many bytes; an empty blob has one too.
fn chunks(length: usize) -> usize {
    length.div_ceil(CHUNK).max(1)
}

/// Bytes that so many are when sealed.
pub(crate) fn sealed_length(length: usize) -> usize {
    length + chunks(length) * TAG
}

/// Writes the bytes, sealed under a key that no other file has.
pub(crate) fn write(key: &Key, id: BlobId, bytes: &[u8], to: &mut impl Write) -> io::Result<()> {
    let mut sealed = Vec::with_capacity(CHUNK + TAG);
    for index in 0..chunks(bytes.len()) {
        let chunk = &bytes[index * CHUNK..bytes.len().min((index + 1) * CHUNK)];
        sealed.clear();
        sealed.extend(chunk);
        let last = (index + 1) * CHUNK >= bytes.len();
        let tag = aead::seal(key, &nonce(index, last), &id.0, &mut sealed);
        sealed.extend(tag);
        to.write_all(&sealed)?;
    }
    Ok(())
}

/// Opens what [`write`] wrote, where it stands. `None` if it is not exactly that.
pub(crate) fn open(key: &Key, id: BlobId, mut sealed: Vec<u8>) -> Option<Vec<u8>> {
    let count = sealed.len().div_ceil(CHUNK + TAG);
    let length = sealed.len().checked_sub(count * TAG)?;
    if chunks(length) != count {
        return None;
    }
    for index in 0..count {
        let from = index * (CHUNK + TAG);
        let to = sealed.len().min(from + CHUNK + TAG);
        let (chunk, tag) = sealed[from..to].split_last_chunk_mut::<TAG>()?;
        let tag = *tag;
        if !aead::open(key, &nonce(index, index + 1 == count), &id.0, chunk, &tag) {
            return None;
        }
        sealed.copy_within(from..to - TAG, index * CHUNK);
    }
    sealed.truncate(length);
    Some(sealed)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ID: BlobId = BlobId([7; 32]);

    fn key() -> Key {
        Key::new([5; 32])
    }

    fn sealed(bytes: &[u8]) -> Vec<u8> {
        let mut sealed = Vec::new();
        write(&key(), ID, bytes, &mut sealed).unwrap();
        sealed
    }

    fn bytes(length: usize) -> Vec<u8> {
        (0..length)
            .map(|index| (index / 251 + index) as u8)
            .collect()
    }

    #[test]
    fn every_length_comes_back() {
        for length in [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 2 * CHUNK, 3 * CHUNK + 17] {
            let sealed = sealed(&bytes(length));
            assert_eq!(sealed.len(), sealed_length(length), "{length}");
            assert_eq!(open(&key(), ID, sealed), Some(bytes(length)), "{length}");
        }
    }

    #[test]
    fn any_cut_is_noticed() {
        let whole = sealed(&bytes(2 * CHUNK + 100));
        let ends = [
            0,
            1,
            TAG,
            CHUNK,
            CHUNK + TAG,
            CHUNK + TAG + 1,
            2 * (CHUNK + TAG),
        ];
        for length in ends.into_iter().chain(whole.len() - 120..whole.len()) {
            assert_eq!(open(&key(), ID, whole[..length].to_vec()), None, "{length}");
        }
        let longer = [whole, vec![0]].concat();
        assert_eq!(open(&key(), ID, longer), None);
    }

    #[test]
    fn chunks_moved_repeated_or_from_elsewhere_are_noticed() {
        let whole = sealed(&bytes(2 * CHUNK));
        let (first, second) = whole.split_at(CHUNK + TAG);
        assert_eq!(open(&key(), ID, [second, first].concat()), None);
        assert_eq!(open(&key(), ID, [first, first].concat()), None);
        assert_eq!(open(&key(), ID, [first, first, second].concat()), None);
        assert_eq!(open(&key(), ID, second.to_vec()), None);
        assert_eq!(open(&Key::new([6; 32]), ID, whole.clone()), None);
        assert_eq!(open(&key(), BlobId([8; 32]), whole.clone()), None);
        assert_eq!(open(&key(), ID, whole), Some(bytes(2 * CHUNK)));
    }

    #[test]
    fn one_altered_bit_is_noticed() {
        let whole = sealed(&bytes(300));
        for at in 0..whole.len() {
            let mut altered = whole.clone();
            altered[at] ^= 0x10;
            assert_eq!(open(&key(), ID, altered), None, "{at}");
        }
    }
}
