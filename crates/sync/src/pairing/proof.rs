//! What both sides of a pairing prove to each other.

use units::DeviceId;

use super::code::Secret;
use super::words::words;

pub(super) type Nonce = [u8; 32];

/// Binds a device to a nonce before it is shown.
pub(super) fn commitment(nonce: &Nonce) -> [u8; 32] {
    *blake3::hash(nonce).as_bytes()
}

/// All that both sides must agree on.
pub(super) struct Transcript<'a> {
    pub(super) secret: &'a Secret,
    pub(super) offering: DeviceId,
    pub(super) joining: DeviceId,
    pub(super) offering_nonce: Nonce,
    pub(super) joining_nonce: Nonce,
}

impl Transcript<'_> {
    /// The joining device's proof. Hashes compare in constant time.
    pub(super) fn joining_mac(&self) -> blake3::Hash {
        self.mac(b"join ")
    }

    /// The offering device's proof.
    pub(super) fn offering_mac(&self) -> blake3::Hash {
        self.mac(b"offer")
    }

    /// The words to compare.
    pub(super) fn words(&self) -> [&'static str; 4] {
        let [a, b, c, d, ..] = *self.mac(b"words").as_bytes();
        words([a, b, c, d])
    }

    fn mac(&self, label: &[u8; 5]) -> blake3::Hash {
        let key = blake3::derive_key("pothook 2026 pairing 1", self.secret);
        let mut hasher = blake3::Hasher::new_keyed(&key);
        hasher.update(label);
        hasher.update(&self.offering.0).update(&self.joining.0);
        hasher
            .update(&self.offering_nonce)
            .update(&self.joining_nonce);
        hasher.finalize()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_part_of_the_transcript_changes_every_proof() {
        let secret = [1; 16];
        let transcript = || Transcript {
            secret: &secret,
            offering: DeviceId([2; 32]),
            joining: DeviceId([3; 32]),
            offering_nonce: [4; 32],
            joining_nonce: [5; 32],
        };
        let all = |t: Transcript| [t.joining_mac(), t.offering_mac(), t.mac(b"words")];
        let mut seen = all(transcript()).to_vec();
        seen.extend(all(Transcript {
            secret: &[9; 16],
            ..transcript()
        }));
        seen.extend(all(Transcript {
            offering: DeviceId([9; 32]),
            ..transcript()
        }));
        seen.extend(all(Transcript {
            joining: DeviceId([9; 32]),
            ..transcript()
        }));
        seen.extend(all(Transcript {
            offering_nonce: [9; 32],
            ..transcript()
        }));
        seen.extend(all(Transcript {
            joining_nonce: [9; 32],
            ..transcript()
        }));
        assert_eq!(seen.len(), 18);
        for (i, mac) in seen.iter().enumerate() {
            assert!(!seen[i + 1..].contains(mac));
        }
    }
}
