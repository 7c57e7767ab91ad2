//! Sealing bytes with XChaCha20-Poly1305, so that they can be neither read nor altered without the key.

use chacha20poly1305::aead::{AeadInOut, KeyInit};
use chacha20poly1305::{Tag, XChaCha20Poly1305, XNonce};

use crate::Key;

/// Bytes in a nonce.
pub(crate) const NONCE: usize = 24;
/// Bytes that sealing adds.
pub(crate) const TAG: usize = 16;

/// Seals the bytes where they are; hands back the tag. A nonce is never used twice under one key.
pub(crate) fn seal(key: &Key, nonce: &[u8; NONCE], bound: &[u8], bytes: &mut [u8]) -> [u8; TAG] {
    let sealed = cipher(key).encrypt_inout_detached(&XNonce::from(*nonce), bound, bytes.into());
    // It refuses only more than 256 GiB.
    sealed.expect("a chunk is short").into()
}

/// Opens the bytes where they are. `false` if key, nonce, `bound`, bytes or tag are not those of the
/// sealing; the bytes are then worthless.
#[must_use]
pub(crate) fn open(
    key: &Key,
    nonce: &[u8; NONCE],
    bound: &[u8],
    bytes: &mut [u8],
    tag: &[u8; TAG],
) -> bool {
    cipher(key)
        .decrypt_inout_detached(&XNonce::from(*nonce), bound, bytes.into(), &Tag::from(*tag))
        .is_ok()
}

fn cipher(key: &Key) -> XChaCha20Poly1305 {
    XChaCha20Poly1305::new(key.bytes().into())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex<const N: usize>(text: &str) -> [u8; N] {
        let digits: Vec<u8> = text.bytes().filter(u8::is_ascii_hexdigit).collect();
        let byte =
            |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap();
        let bytes: Vec<u8> = digits.chunks(2).map(byte).collect();
        bytes.try_into().unwrap()
    }

    /// draft-irtf-cfrg-xchacha-03, appendix A.3.1.
    #[test]
    fn the_published_example_comes_out() {
        let key = Key::new(core::array::from_fn(|index| 0x80 + index as u8));
        let nonce = core::array::from_fn(|index| 0x40 + index as u8);
        let bound = hex::<12>("50515253c0c1c2c3c4c5c6c7");
        let plain =
            *b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip \
                       for the future, sunscreen would be it.";
        let mut bytes = plain;
        let tag = seal(&key, &nonce, &bound, &mut bytes);
        let sealed = hex::<114>(
            "bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb
             731c7f1b0b4aa6440bf3a82f4eda7e39ae64c6708c54c216cb96b72e1213b452
             2f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff9
             21f9664c97637da9768812f615c68b13b52e",
        );
        assert_eq!(bytes, sealed);
        assert_eq!(tag, hex::<16>("c0875924c1c7987947deafd8780acf49"));

        assert!(open(&key, &nonce, &bound, &mut bytes, &tag));
        assert_eq!(bytes, plain);
    }

    #[test]
    fn nothing_about_it_may_be_another() {
        let key = Key::new([1; 32]);
        let tag = seal(&key, &[2; NONCE], b"bound", &mut [3; 5]);
        let mut sealed = [3; 5];
        assert_eq!(seal(&key, &[2; NONCE], b"bound", &mut sealed), tag);
        let opens = |key: &Key, nonce: u8, bound: &[u8], first: u8, tag: [u8; TAG]| {
            let mut bytes = sealed;
            bytes[0] ^= first;
            open(key, &[nonce; NONCE], bound, &mut bytes, &tag)
        };
        assert!(opens(&key, 2, b"bound", 0, tag));
        assert!(!opens(&Key::new([9; 32]), 2, b"bound", 0, tag));
        assert!(!opens(&key, 3, b"bound", 0, tag));
        assert!(!opens(&key, 2, b"other", 0, tag));
        assert!(!opens(&key, 2, b"bound", 1, tag));
        assert!(!opens(&key, 2, b"bound", 0, [0; TAG]));
    }
}
