//! What stands in the key file, byte for byte.
//!
//! Numbers are little-endian.
//!
//! | bytes | |
//! |---|---|
//! | 12 | `pothook key\n` |
//! | 1 | version of this form: 1 |
//! | 16 | id of the folder, random |
//! | 1 | 1 if the keyring may hold an entry that is to be removed, else 0 |
//! | 1 | holder: 1 keyring, 2 passphrase, 3 key |
//! | 12 + 16 | with a passphrase: Argon2id memory in KiB, passes, lanes; salt |
//! | 24 | with a passphrase or key: nonce |
//! | 32 or 64, + 16 | with a passphrase or key: one or two sealed database keys, with the tag |
//! | 32 | BLAKE3 of all before |
//!
//! The sealing also covers everything that stands before the nonce.

use crate::aead::{self, NONCE, TAG};
use crate::kdf::{SALT, Work};
use crate::{Holder, Key, OpenError};

const MAGIC: &[u8; 12] = b"pothook key\n";
const VERSION: u8 = 1;
const SUM: usize = 32;
/// Most bytes in a key file.
pub(crate) const LONGEST: usize = 256;

/// The key file, as it stands on the disk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct KeyFile {
    pub id: [u8; 16],
    /// The keyring may hold an entry from before; it is to be removed.
    pub keyring_to_clear: bool,
    pub lock: Lock,
}

/// How the database's keys are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Lock {
    Keyring,
    Passphrase(Work, [u8; SALT], Sealed),
    Key(Sealed),
}

/// One or two database keys, sealed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Sealed {
    pub nonce: [u8; NONCE],
    /// The keys with the tag.
    pub bytes: Vec<u8>,
}

impl KeyFile {
    pub(crate) fn holder(&self) -> Holder {
        match self.lock {
            Lock::Keyring => Holder::Keyring,
            Lock::Passphrase(..) => Holder::Passphrase,
            Lock::Key(_) => Holder::Key,
        }
    }

    pub(crate) fn encode(&self) -> Vec<u8> {
        let mut bytes = self.head();
        if let Lock::Passphrase(_, _, sealed) | Lock::Key(sealed) = &self.lock {
            bytes.extend(sealed.nonce);
            bytes.extend(&sealed.bytes);
        }
        let sum = blake3::hash(&bytes);
        bytes.extend(sum.as_bytes());
        bytes
    }

    /// What stands before the nonce.
    fn head(&self) -> Vec<u8> {
        let mut bytes = MAGIC.to_vec();
        bytes.push(VERSION);
        bytes.extend(self.id);
        bytes.push(u8::from(self.keyring_to_clear));
        match &self.lock {
            Lock::Keyring => bytes.push(1),
            Lock::Passphrase(work, salt, _) => {
                bytes.push(2);
                for number in [work.memory, work.passes, work.lanes] {
                    bytes.extend(number.to_le_bytes());
                }
                bytes.extend(salt);
            }
            Lock::Key(_) => bytes.push(3),
        }
        bytes
    }

    pub(crate) fn decode(bytes: &[u8]) -> Result<Self, OpenError> {
        let damaged = || OpenError::Damaged("the key file".to_owned());
        let rest = bytes.strip_prefix(MAGIC).ok_or_else(damaged)?;
        let version = *rest.first().ok_or_else(damaged)?;
        if version > VERSION {
            return Err(OpenError::Newer {
                version: version.into(),
            });
        }
        let (whole, sum) = bytes.split_last_chunk::<SUM>().ok_or_else(damaged)?;
        if blake3::hash(whole) != *sum {
            return Err(damaged());
        }
        let mut rest = Rest(&whole[MAGIC.len()..]);
        Self::from_rest(&mut rest)
            .filter(|_| rest.0.is_empty() && version == VERSION)
            .ok_or_else(damaged)
    }

    fn from_rest(rest: &mut Rest<'_>) -> Option<Self> {
        let [_version] = rest.take()?;
        let id = rest.take()?;
        let keyring_to_clear = match rest.take()? {
            [0] => false,
            [1] => true,
            _ => return None,
        };
        let lock = match rest.take()? {
            [1] => Lock::Keyring,
            [2] => {
                let work = Work {
                    memory: rest.number()?,
                    passes: rest.number()?,
                    lanes: rest.number()?,
                };
                let salt = rest.take()?;
                Lock::Passphrase(work, salt, rest.sealed()?)
            }
            [3] => Lock::Key(rest.sealed()?),
            _ => return None,
        };
        Some(Self {
            id,
            keyring_to_clear,
            lock,
        })
    }

    /// Seals the database's keys into the file. Nothing happens where the keyring holds them.
    pub(crate) fn seal(&mut self, keys: &[Key], under: &Key) -> std::io::Result<()> {
        let head = self.head();
        if let Lock::Passphrase(_, _, sealed) | Lock::Key(sealed) = &mut self.lock {
            getrandom::fill(&mut sealed.nonce)?;
            // Grown to its full size first, so that no half-filled copy of a key is left in memory.
            sealed.bytes = Vec::with_capacity(keys.len() * Key::LENGTH + TAG);
            sealed.bytes.extend(keys.iter().flat_map(Key::bytes));
            let tag = aead::seal(under, &sealed.nonce, &head, &mut sealed.bytes);
            sealed.bytes.extend(tag);
        }
        Ok(())
    }

    /// The database's keys; `None` if this key does not open them.
    pub(crate) fn open(&self, under: &Key) -> Option<Vec<Key>> {
        let (Lock::Passphrase(_, _, sealed) | Lock::Key(sealed)) = &self.lock else {
            return None;
        };
        let mut bytes = zeroize::Zeroizing::new(sealed.bytes.clone());
        let (keys, tag) = bytes.split_last_chunk_mut::<TAG>()?;
        if !aead::open(under, &sealed.nonce, &self.head(), keys, tag) {
            return None;
        }
        keys_from(keys)
    }
}

/// One or two keys from their bytes.
pub(crate) fn keys_from(bytes: &[u8]) -> Option<Vec<Key>> {
    let keys: Option<Vec<Key>> = bytes.chunks(Key::LENGTH).map(Key::from_slice).collect();
    keys.filter(|keys| (1..=2).contains(&keys.len()))
}

/// What has not been read yet.
struct Rest<'a>(&'a [u8]);

impl Rest<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (taken, rest) = self.0.split_first_chunk()?;
        self.0 = rest;
        Some(*taken)
    }

    fn number(&mut self) -> Option<u32> {
        self.take().map(u32::from_le_bytes)
    }

    /// The nonce, and all that is left.
    fn sealed(&mut self) -> Option<Sealed> {
        let nonce = self.take()?;
        let bytes = std::mem::take(&mut self.0).to_vec();
        let keys = bytes.len().checked_sub(TAG)?;
        [Key::LENGTH, 2 * Key::LENGTH]
            .contains(&keys)
            .then_some(Sealed { nonce, bytes })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn sealed() -> impl Strategy<Value = Sealed> {
        (any::<[u8; NONCE]>(), 1..=2_usize).prop_flat_map(|(nonce, keys)| {
            proptest::collection::vec(any::<u8>(), keys * Key::LENGTH + TAG)
                .prop_map(move |bytes| Sealed { nonce, bytes })
        })
    }

    fn lock() -> impl Strategy<Value = Lock> {
        let work = any::<[u32; 3]>().prop_map(|[memory, passes, lanes]| Work {
            memory,
            passes,
            lanes,
        });
        prop_oneof![
            Just(Lock::Keyring),
            (work, any::<[u8; SALT]>(), sealed())
                .prop_map(|(work, salt, sealed)| Lock::Passphrase(work, salt, sealed)),
            sealed().prop_map(Lock::Key),
        ]
    }

    fn key_file() -> impl Strategy<Value = KeyFile> {
        (any::<[u8; 16]>(), any::<bool>(), lock()).prop_map(|(id, keyring_to_clear, lock)| {
            KeyFile {
                id,
                keyring_to_clear,
                lock,
            }
        })
    }

    proptest! {
        #[test]
        fn what_was_written_is_read(file in key_file()) {
            let bytes = file.encode();
            prop_assert!(bytes.len() <= LONGEST);
            prop_assert_eq!(KeyFile::decode(&bytes).unwrap(), file);
        }

        #[test]
        fn one_altered_bit_is_noticed(file in key_file(), at in any::<prop::sample::Index>(), bit in 0..8) {
            let mut bytes = file.encode();
            let at = at.index(bytes.len());
            bytes[at] ^= 1_u8 << bit;
            prop_assert!(KeyFile::decode(&bytes).is_err());
        }

        #[test]
        fn a_cut_is_noticed(file in key_file(), length in any::<prop::sample::Index>()) {
            let bytes = file.encode();
            prop_assert!(KeyFile::decode(&bytes[..length.index(bytes.len())]).is_err());
        }

        /// With a right sum, so that what lies behind it is reached.
        #[test]
        fn bytes_from_nowhere_are_read_or_refused(tail in proptest::collection::vec(any::<u8>(), 0..200)) {
            let mut bytes = MAGIC.to_vec();
            bytes.push(VERSION);
            bytes.extend(tail);
            let sum = *blake3::hash(&bytes).as_bytes();
            bytes.extend(sum);
            if let Ok(file) = KeyFile::decode(&bytes) {
                prop_assert_eq!(file.encode(), bytes);
            }
        }
    }

    fn under_key(keys: &[Key], under: &Key) -> KeyFile {
        let mut file = KeyFile {
            id: [7; 16],
            keyring_to_clear: false,
            lock: Lock::Key(Sealed::default()),
        };
        file.seal(keys, under).unwrap();
        file
    }

    #[test]
    fn sealed_keys_open_with_their_key_only() {
        let keys = [Key::new([1; 32]), Key::new([2; 32])];
        let under = Key::new([3; 32]);
        for kept in [&keys[..1], &keys[..]] {
            let file = under_key(kept, &under);
            assert_eq!(file.open(&under), Some(kept.to_vec()));
            assert_eq!(file.open(&Key::new([4; 32])), None);
            assert!(!file.encode().windows(8).any(|window| window == [1; 8]));
        }
    }

    #[test]
    fn sealed_keys_do_not_open_in_another_folders_file() {
        let under = Key::new([3; 32]);
        let mut file = under_key(&[Key::new([1; 32])], &under);
        file.id = [8; 16];
        assert_eq!(file.open(&under), None);
    }

    #[test]
    fn a_newer_file_says_so() {
        let mut bytes = under_key(&[Key::new([1; 32])], &Key::new([3; 32])).encode();
        bytes[MAGIC.len()] = 9;
        let refused = KeyFile::decode(&bytes);
        assert!(
            matches!(refused, Err(OpenError::Newer { version: 9 })),
            "{refused:?}"
        );
    }
}
