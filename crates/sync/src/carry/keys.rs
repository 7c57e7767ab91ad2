//! Keys to encrypt to, from the keys that devices sign with.
//!
//! The curve of Ed25519 (RFC 8032) and that of X25519 (RFC 7748) are birationally
//! equivalent, so that one key pair serves for both: a public key by the map from RFC
//! 7748, section 4.1; a secret key by the clamped first half of its SHA-512, which is
//! the scalar that Ed25519 itself multiplies with. That signing and this kind of key
//! agreement may share a key pair is shown in Thormarker, *On using the same key pair for
//! Ed25519 and an X25519 based KEM* (IACR ePrint 2021/509).

use age::x25519::{Identity, Recipient};
use bech32::{Bech32, Hrp};
use ed25519_dalek::{SigningKey, VerifyingKey};
use units::DeviceId;
use zeroize::Zeroizing;

const PUBLIC: Hrp = Hrp::parse_unchecked("age");
const SECRET: Hrp = Hrp::parse_unchecked("age-secret-key-");

/// The key to encrypt to a device, unless its name is no Ed25519 key, or one of the few
/// to which no secret key can belong.
pub(super) fn recipient(device: DeviceId) -> Option<Recipient> {
    let key = VerifyingKey::from_bytes(&device.0).ok()?;
    if key.is_weak() {
        return None;
    }
    let text = bech32::encode::<Bech32>(PUBLIC, key.to_montgomery().as_bytes()).ok()?;
    text.parse().ok()
}

/// The key with which the device of this Ed25519 seed decrypts.
pub(super) fn identity(secret: &[u8; 32]) -> Identity {
    let mut scalar = Zeroizing::new(SigningKey::from_bytes(secret).to_scalar_bytes());
    // Clamped as in RFC 7748, section 5.
    scalar[0] &= 248;
    scalar[31] = scalar[31] & 127 | 64;
    let text = bech32::encode_upper::<Bech32>(SECRET, &*scalar).map(Zeroizing::new);
    let text = text.expect("32 bytes fit");
    text.parse().expect("any 32 bytes are a secret key")
}

#[cfg(test)]
mod tests {
    use age::secrecy::ExposeSecret;
    use bech32::primitives::decode::CheckedHrpstring;

    use super::*;

    fn hex(text: &str) -> [u8; 32] {
        text.parse::<DeviceId>().unwrap().0
    }

    fn bytes(text: &str) -> Vec<u8> {
        let checked = CheckedHrpstring::new::<Bech32>(text).unwrap();
        checked.byte_iter().collect()
    }

    /// libsodium, test/default/ed25519_convert: the seed of its key pair, and both keys
    /// on the other curve.
    #[test]
    fn keys_are_those_of_a_published_vector() {
        let seed = hex("421151a459faeade3d247115f94aedae42318124095afabe4d1451a559faedee");
        let public = hex("f1814f0e8ff1043d8a44d25babff3cedcae6c22c3edaa48f857ae70de2baae50");
        let secret = hex("8052030376d47112be7f73ed7a019293dd12ad910b654455798b4667d73de166");
        let device = DeviceId(SigningKey::from_bytes(&seed).verifying_key().to_bytes());
        assert_eq!(bytes(&recipient(device).unwrap().to_string()), public);
        let identity = identity(&seed);
        assert_eq!(bytes(identity.to_string().expose_secret()), secret);
        assert_eq!(identity.to_public(), recipient(device).unwrap());
    }

    /// RFC 8032, section 7.1, tests 1 and 2: the seeds and public keys. The two ways to
    /// the other curve must meet.
    #[test]
    fn secret_and_public_keys_fit() {
        for (seed, public) in [
            (
                "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
                "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            ),
            (
                "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
                "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            ),
        ] {
            let there = recipient(DeviceId(hex(public))).unwrap();
            assert_eq!(identity(&hex(seed)).to_public(), there);
        }
    }

    /// The encodings of points of small order, from the curve's own equation: y of order
    /// 1, 2, 4 and 8 (as listed in RFC 7748's security considerations by their other
    /// coordinate). To encrypt to one of them would be to encrypt to everybody.
    #[test]
    fn a_key_of_small_order_or_off_the_curve_is_none() {
        let mut order_1 = [0; 32];
        order_1[0] = 1;
        let mut order_2 = [0xff; 32];
        (order_2[0], order_2[31]) = (0xec, 0x7f);
        let order_8 = hex("26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05");
        let other_8 = hex("c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a");
        for mut weak in [order_1, order_2, [0; 32], order_8, other_8] {
            assert_eq!(recipient(DeviceId(weak)), None);
            weak[31] |= 0x80;
            assert_eq!(recipient(DeviceId(weak)), None);
        }
        // y = 2 is on no point.
        let mut off = [0; 32];
        off[0] = 2;
        assert_eq!(recipient(DeviceId(off)), None);
    }
}
