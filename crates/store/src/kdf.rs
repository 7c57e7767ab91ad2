//! From a passphrase to a key, with Argon2id (RFC 9106).

use argon2::{Algorithm, Argon2, Params, Version};

use crate::{Key, Passphrase};

/// Bytes in a salt.
pub(crate) const SALT: usize = 16;

/// How much work it takes to try one passphrase. Written down beside the sealed key, so that a later
/// version can ask for more and still open what is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Work {
    /// KiB of memory.
    pub memory: u32,
    /// Passes over it.
    pub passes: u32,
    /// Parts of it that could be worked on at once.
    pub lanes: u32,
}

impl Work {
    /// RFC 9106 section 4, the second recommended option (64 MiB, three passes), on one lane instead
    /// of four, because phones and this program use one.
    pub(crate) const NOW: Self = Self {
        memory: 64 << 10,
        passes: 3,
        lanes: 1,
    };

    /// Whether a file may ask for it: at most 1 GiB, and at most 8 GiB written in all, which takes
    /// some ten seconds.
    pub(crate) fn is_bearable(self) -> bool {
        let written = u64::from(self.memory) * u64::from(self.passes);
        (1..=16).contains(&self.lanes)
            && (8 * self.lanes..=1 << 20).contains(&self.memory)
            && (1..=8 << 20).contains(&written)
    }

    /// The key that this passphrase stands for. `None` if the work is not bearable.
    pub(crate) fn derive(self, passphrase: &Passphrase, salt: &[u8; SALT]) -> Option<Key> {
        if !self.is_bearable() {
            return None;
        }
        derive(self, passphrase.text().as_bytes(), salt)
    }
}

fn derive(work: Work, passphrase: &[u8], salt: &[u8]) -> Option<Key> {
    let params = Params::new(work.memory, work.passes, work.lanes, Some(Key::LENGTH)).ok()?;
    let argon = Argon2::new(Algorithm::Argon2id, Version::V0x13, params);
    Key::filled(|key| argon.hash_password_into(passphrase, salt, key)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The reference implementation's own tests (github.com/P-H-C/phc-winner-argon2, src/test.c):
    /// Argon2id, version 0x13, two passes over 64 MiB on one lane. Value from memory.
    #[test]
    fn the_reference_implementations_value_comes_out() {
        let work = Work {
            memory: 64 << 10,
            passes: 2,
            lanes: 1,
        };
        let key = derive(work, b"password", b"somesalt").unwrap();
        let hex: String = key
            .bytes()
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        assert_eq!(
            hex,
            "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"
        );
    }

    #[test]
    fn work_that_nobody_could_wait_for_is_refused() {
        let work = |memory, passes, lanes| Work {
            memory,
            passes,
            lanes,
        };
        assert!(Work::NOW.is_bearable());
        assert!(work(1 << 20, 8, 1).is_bearable());
        for unbearable in [
            work(0, 3, 1),
            work(7, 3, 1),
            work(64 << 10, 0, 1),
            work(64 << 10, 3, 0),
            work(64 << 10, 3, 17),
            work((1 << 20) + 1, 1, 1),
            work(1 << 20, 9, 1),
            work(64 << 10, u32::MAX, 1),
            work(u32::MAX, u32::MAX, u32::MAX),
        ] {
            assert!(!unbearable.is_bearable(), "{unbearable:?}");
            let passphrase = Passphrase::new("heron");
            assert_eq!(unbearable.derive(&passphrase, &[0; SALT]), None);
        }
    }
}
