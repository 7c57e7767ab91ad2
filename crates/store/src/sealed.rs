//! A blob's bytes as they stand in its file: sealed in chunks, so that one is read or written at a time.
//!
//! Each chunk holds 64 KiB, the last what is left, and is sealed under the blob's own key with a nonce
//! that counts the chunks and marks the last one. So a chunk that is cut off, moved or taken from
//! another file does not open (the STREAM construction of Hoang, Reyhanitabar, Rogaway and Vizár,
//! "Online Authenticated-Encryption and its Nonce-Reuse Misuse-Resistance", 2015). The key is used for
//! one file only, which is why the rest of the nonce may be nought.
//!
//! Files are sealed with AES-256-GCM (NIST SP 800-38D), for which phones and laptops have instructions of
//! their own; those of earlier versions were with XChaCha20-Poly1305, and stay as they are.

use std::io::{self, Write};

use ring::aead::{AES_256_GCM, Aad, LessSafeKey, Nonce, UnboundKey};
use units::BlobId;

use crate::Key;
use crate::aead::{self, NONCE, TAG};

/// How a file is sealed; the numbers stand in the database.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cipher {
    XChaCha20Poly1305 = 1,
    Aes256Gcm = 2,
}

impl Cipher {
    /// How new files are sealed.
    pub(crate) const NEW: Self = Self::Aes256Gcm;

    pub(crate) fn numbered(number: i64) -> Option<Self> {
        [Self::XChaCha20Poly1305, Self::Aes256Gcm]
            .into_iter()
            .find(|cipher| *cipher as i64 == number)
    }
}

/// What the library derives from the key is not wiped, no more than the bytes that it seals.
fn aes(key: &Key) -> LessSafeKey {
    LessSafeKey::new(UnboundKey::new(&AES_256_GCM, key.bytes()).expect("32 bytes"))
}

/// The last twelve bytes, which hold all that differs.
fn short(nonce: [u8; NONCE]) -> Nonce {
    Nonce::assume_unique_for_key(*nonce.last_chunk().expect("24 are more than 12"))
}

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
    let key = aes(key);
    let mut sealed = Vec::with_capacity(CHUNK + TAG);
    for index in 0..chunks(bytes.len()) {
        let chunk = &bytes[index * CHUNK..bytes.len().min((index + 1) * CHUNK)];
        sealed.clear();
        sealed.extend(chunk);
        let last = (index + 1) * CHUNK >= bytes.len();
        let bound = Aad::from(&id.0);
        let tag = key.seal_in_place_separate_tag(short(nonce(index, last)), bound, &mut sealed);
        // It refuses only more than 64 GiB.
        sealed.extend(tag.expect("a chunk is short").as_ref());
        to.write_all(&sealed)?;
    }
    Ok(())
}

/// Opens what [`write`] wrote, or an earlier version, where it stands. `None` if it is not exactly that.
pub(crate) fn open(cipher: Cipher, key: &Key, id: BlobId, mut sealed: Vec<u8>) -> Option<Vec<u8>> {
    let count = sealed.len().div_ceil(CHUNK + TAG);
    let length = sealed.len().checked_sub(count * TAG)?;
    if chunks(length) != count {
        return None;
    }
    let aes = aes(key);
    for index in 0..count {
        let from = index * (CHUNK + TAG);
        let to = sealed.len().min(from + CHUNK + TAG);
        let nonce = nonce(index, index + 1 == count);
        // Each moves to its place, over the tags of those before it.
        let opened = match cipher {
            Cipher::Aes256Gcm => {
                let (chunks, bound) = (&mut sealed[index * CHUNK..to], Aad::from(&id.0));
                aes.open_within(short(nonce), bound, chunks, index * TAG..)
                    .is_ok()
            }
            Cipher::XChaCha20Poly1305 => {
                let (chunk, tag) = sealed[from..to].split_last_chunk_mut::<TAG>()?;
                let tag = *tag;
                let opened = aead::open(key, &nonce, &id.0, chunk, &tag);
                sealed.copy_within(from..to - TAG, index * CHUNK);
                opened
            }
        };
        if !opened {
            return None;
        }
    }
    sealed.truncate(length);
    Some(sealed)
}

#[cfg(test)]
mod tests {
    use aes_gcm::Aes256Gcm;
    use aes_gcm::aead::{Aead, KeyInit, Payload};

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

    /// Against the same cipher by others: `aes-gcm`, which shares nothing with ours.
    #[test]
    fn a_file_is_what_another_library_makes_of_it() {
        let cipher = Aes256Gcm::new_from_slice(key().bytes()).unwrap();
        for length in [0, 1, CHUNK, CHUNK + 1, 2 * CHUNK + 300] {
            let bytes = bytes(length);
            let count = chunks(length);
            let chunk = |index: usize| {
                let mut nonce = [0; 12];
                nonce[3..11].copy_from_slice(&(index as u64).to_be_bytes());
                nonce[11] = u8::from(index + 1 == count);
                let msg = &bytes[index * CHUNK..length.min((index + 1) * CHUNK)];
                let payload = Payload { msg, aad: &ID.0 };
                cipher.encrypt(&nonce.into(), payload).unwrap()
            };
            let others: Vec<u8> = (0..count).flat_map(chunk).collect();
            assert_eq!(sealed(&bytes), others, "{length}");
        }
    }

    /// As versions before this one wrote files.
    fn sealed_before(bytes: &[u8]) -> Vec<u8> {
        let count = chunks(bytes.len());
        let chunk = |index: usize| {
            let mut chunk = bytes[index * CHUNK..bytes.len().min((index + 1) * CHUNK)].to_vec();
            let nonce = nonce(index, index + 1 == count);
            let tag = aead::seal(&key(), &nonce, &ID.0, &mut chunk);
            chunk.extend(tag);
            chunk
        };
        (0..count).flat_map(chunk).collect()
    }

    #[test]
    fn files_of_earlier_versions_open_as_theirs_only() {
        for length in [0, 1, CHUNK, CHUNK + 1, 3 * CHUNK + 17] {
            let before = sealed_before(&bytes(length));
            assert_eq!(before.len(), sealed_length(length), "{length}");
            let opened = open(Cipher::XChaCha20Poly1305, &key(), ID, before.clone());
            assert_eq!(opened, Some(bytes(length)), "{length}");
            assert_eq!(open(Cipher::NEW, &key(), ID, before), None, "{length}");
            let new = sealed(&bytes(length));
            let opened = open(Cipher::XChaCha20Poly1305, &key(), ID, new);
            assert_eq!(opened, None, "{length}");
        }
    }

    #[test]
    fn every_length_comes_back() {
        for length in [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 2 * CHUNK, 3 * CHUNK + 17] {
            let sealed = sealed(&bytes(length));
            assert_eq!(sealed.len(), sealed_length(length), "{length}");
            assert_eq!(
                open(Cipher::NEW, &key(), ID, sealed),
                Some(bytes(length)),
                "{length}"
            );
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
            assert_eq!(
                open(Cipher::NEW, &key(), ID, whole[..length].to_vec()),
                None,
                "{length}"
            );
        }
        let longer = [whole, vec![0]].concat();
        assert_eq!(open(Cipher::NEW, &key(), ID, longer), None);
    }

    #[test]
    fn chunks_moved_repeated_or_from_elsewhere_are_noticed() {
        let whole = sealed(&bytes(2 * CHUNK));
        let (first, second) = whole.split_at(CHUNK + TAG);
        assert_eq!(
            open(Cipher::NEW, &key(), ID, [second, first].concat()),
            None
        );
        assert_eq!(open(Cipher::NEW, &key(), ID, [first, first].concat()), None);
        assert_eq!(
            open(Cipher::NEW, &key(), ID, [first, first, second].concat()),
            None
        );
        assert_eq!(open(Cipher::NEW, &key(), ID, second.to_vec()), None);
        assert_eq!(
            open(Cipher::NEW, &Key::new([6; 32]), ID, whole.clone()),
            None
        );
        assert_eq!(
            open(Cipher::NEW, &key(), BlobId([8; 32]), whole.clone()),
            None
        );
        assert_eq!(open(Cipher::NEW, &key(), ID, whole), Some(bytes(2 * CHUNK)));
    }

    #[test]
    fn one_altered_bit_is_noticed() {
        let whole = sealed(&bytes(300));
        for at in 0..whole.len() {
            let mut altered = whole.clone();
            altered[at] ^= 0x10;
            assert_eq!(open(Cipher::NEW, &key(), ID, altered), None, "{at}");
        }
    }
}
