//! Messages that only the two ends can read or make. The format stands at the head of the crate.

use app::units::Problem;
use chacha20poly1305::aead::{AeadInOut, KeyInit};
use chacha20poly1305::{Tag, XChaCha20Poly1305, XNonce};
use hyper::body::Bytes;

/// A key, ready for use; overwritten when dropped.
pub(crate) type Cipher = XChaCha20Poly1305;

const LABEL: &[u8; 15] = b"pothook phone 1";
const NONCE: usize = 24;
const TAG: usize = 16;
/// Key's byte, number, nonce.
const HEAD: usize = 1 + 4 + NONCE;
/// Two lengths.
const LENGTHS: usize = 8;
/// What every text is filled up to a multiple of.
const STEP: usize = 64 << 10;

/// Bytes of a question that holds no photograph.
pub(crate) const SMALL: usize = HEAD + STEP + TAG;

/// Bytes of a question with a photograph of this size.
pub(crate) const fn with_photo(bytes: usize) -> usize {
    SMALL + bytes.next_multiple_of(STEP)
}

/// Under which key a question is sealed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Under {
    Code,
    Visit,
}

/// A question as it came, not opened yet.
pub(crate) struct Sealed {
    pub under: Under,
    pub number: u32,
    nonce: [u8; NONCE],
    message: Vec<u8>,
}

/// JSON and a picture, which may be empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Text {
    pub json: Bytes,
    pub picture: Bytes,
}

/// To which question an answer belongs.
pub(crate) struct Return {
    cipher: Cipher,
    under: Under,
    number: u32,
    asked: [u8; NONCE],
}

pub(crate) fn cipher(key: &[u8; 32]) -> Cipher {
    Cipher::new(key.into())
}

impl Sealed {
    /// `None` where the bytes are too few or their head is none.
    pub fn read(message: Vec<u8>) -> Option<Self> {
        if message.len() < HEAD + TAG {
            return None;
        }
        let under = match message[0] {
            0 => Under::Code,
            1 => Under::Visit,
            _ => return None,
        };
        Some(Self {
            under,
            number: u32::from_be_bytes(message[1..5].try_into().ok()?),
            nonce: message[5..HEAD].try_into().ok()?,
            message,
        })
    }

    /// `None` where this key did not seal it, or it was altered since, or its text is none.
    pub fn open(self, cipher: &Cipher) -> Option<(Text, Return)> {
        let Self {
            under,
            number,
            nonce,
            mut message,
        } = self;
        let end = message.len() - TAG;
        let (text, tag) = message[HEAD..].split_at_mut(end - HEAD);
        let tag = Tag::try_from(&*tag).ok()?;
        let bound = bound(0, under, number, &[]);
        let nonce_ = XNonce::from(nonce);
        cipher
            .decrypt_inout_detached(&nonce_, &bound, text.into(), &tag)
            .ok()?;
        let text = Bytes::from(message).slice(HEAD..end);
        let back = Return {
            cipher: cipher.clone(),
            under,
            number,
            asked: nonce,
        };
        Some((unpadded(&text)?, back))
    }
}

impl Return {
    /// Seals the answer.
    ///
    /// # Errors
    /// The system gives no random bytes.
    pub fn seal(&self, text: &Text) -> Result<Vec<u8>, Problem> {
        let nonce = app::random::<NONCE>()?;
        let mut message = nonce.to_vec();
        pad(text, &mut message);
        let bound = bound(1, self.under, self.number, &self.asked);
        let plain = &mut message[NONCE..];
        let tag = self
            .cipher
            .encrypt_inout_detached(&XNonce::from(nonce), &bound, plain.into())
            // It refuses only more than 256 GiB.
            .expect("an answer is short");
        message.extend_from_slice(&tag);
        Ok(message)
    }
}

fn bound(direction: u8, under: Under, number: u32, asked: &[u8]) -> Vec<u8> {
    let mut bound = LABEL.to_vec();
    bound.push(direction);
    bound.push(match under {
        Under::Code => 0,
        Under::Visit => 1,
    });
    bound.extend_from_slice(&number.to_be_bytes());
    bound.extend_from_slice(asked);
    bound
}

fn pad(text: &Text, message: &mut Vec<u8>) {
    let before = message.len();
    for part in [&text.json, &text.picture] {
        let length = u32::try_from(part.len()).expect("an answer is short");
        message.extend_from_slice(&length.to_be_bytes());
    }
    message.extend_from_slice(&text.json);
    message.extend_from_slice(&text.picture);
    let length = message.len() - before;
    message.resize(before + length.next_multiple_of(STEP), 0);
}

fn unpadded(text: &Bytes) -> Option<Text> {
    let length = |at: usize| {
        let bytes = text.get(at..at + 4)?.try_into().ok()?;
        usize::try_from(u32::from_be_bytes(bytes)).ok()
    };
    let json_ends = LENGTHS.checked_add(length(0)?)?;
    let ends = json_ends.checked_add(length(4)?)?;
    (ends <= text.len()).then(|| Text {
        json: text.slice(LENGTHS..json_ends),
        picture: text.slice(json_ends..ends),
    })
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    fn text(json: &'static [u8], picture: &'static [u8]) -> Text {
        Text {
            json: Bytes::from_static(json),
            picture: Bytes::from_static(picture),
        }
    }

    /// As the page seals its questions.
    pub(crate) fn question(key: &[u8; 32], under: Under, number: u32, text: &Text) -> Vec<u8> {
        let nonce = app::random::<NONCE>().unwrap();
        let mut message = vec![u8::from(under == Under::Visit)];
        message.extend_from_slice(&number.to_be_bytes());
        message.extend_from_slice(&nonce);
        pad(text, &mut message);
        let bound = bound(0, under, number, &[]);
        let plain = &mut message[HEAD..];
        let tag = cipher(key)
            .encrypt_inout_detached(&XNonce::from(nonce), &bound, plain.into())
            .unwrap();
        message.extend_from_slice(&tag);
        message
    }

    fn hex(text: &str) -> Vec<u8> {
        let digits: Vec<u8> = text.bytes().filter(u8::is_ascii_hexdigit).collect();
        let byte =
            |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap();
        digits.chunks(2).map(byte).collect()
    }

    /// draft-irtf-cfrg-xchacha-03, appendix A.3.1. The page's own code is held against the same.
    #[test]
    fn the_published_example_comes_out() {
        let key: [u8; 32] = core::array::from_fn(|index| 0x80 + index as u8);
        let nonce: [u8; NONCE] = core::array::from_fn(|index| 0x40 + index as u8);
        let bound = hex("50515253c0c1c2c3c4c5c6c7");
        let mut bytes = *b"Ladies and Gentlemen of the class of '99: If I could offer you only \
                           one tip for the future, sunscreen would be it.";
        let tag = cipher(&key)
            .encrypt_inout_detached(&XNonce::from(nonce), &bound, bytes.as_mut_slice().into())
            .unwrap();
        let sealed = hex(
            "bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb
             731c7f1b0b4aa6440bf3a82f4eda7e39ae64c6708c54c216cb96b72e1213b452
             2f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff9
             21f9664c97637da9768812f615c68b13b52e",
        );
        assert_eq!(bytes.as_slice(), sealed);
        assert_eq!(tag.as_slice(), hex("c0875924c1c7987947deafd8780acf49"));
    }

    #[test]
    fn a_question_opens_as_it_was_sealed_and_only_so() {
        let key = [7; 32];
        let asked = text(br#"{"ask":"look"}"#, b"picture");
        let message = question(&key, Under::Visit, 3, &asked);
        let open = |message: Vec<u8>, key: &[u8; 32]| Sealed::read(message)?.open(&cipher(key));
        let (opened, _) = open(message.clone(), &key).unwrap();
        assert_eq!(opened, asked);
        assert!(open(message.clone(), &[8; 32]).is_none(), "another key");
        // A byte of each part: key, number, nonce, lengths, JSON, noughts, tag.
        for at in [0, 4, 20, HEAD, HEAD + 10, HEAD + STEP - 1, HEAD + STEP + 3] {
            let mut bent = message.clone();
            bent[at] ^= 1;
            assert!(open(bent, &key).is_none(), "byte {at}");
        }
        assert!(
            open(message[..message.len() - 1].to_vec(), &key).is_none(),
            "cut"
        );
        for short in [0, 1, HEAD + TAG - 1] {
            assert!(
                Sealed::read(message[..short].to_vec()).is_none(),
                "{short} bytes"
            );
        }
    }

    #[test]
    fn lengths_that_lie_open_nothing() {
        for lengths in [
            [u32::MAX, 0],
            [0, u32::MAX],
            [u32::MAX, u32::MAX],
            [60_000, 6_000],
        ] {
            let mut bytes = vec![0; STEP];
            bytes[..4].copy_from_slice(&lengths[0].to_be_bytes());
            bytes[4..8].copy_from_slice(&lengths[1].to_be_bytes());
            assert_eq!(unpadded(&Bytes::from(bytes)), None, "{lengths:?}");
        }
        assert_eq!(unpadded(&Bytes::from_static(&[0; 7])), None);
    }

    #[test]
    fn sizes_come_in_steps() {
        let size = |bytes: usize| {
            let text = Text {
                json: Bytes::from_static(b"{}"),
                picture: Bytes::from(vec![1; bytes]),
            };
            let mut message = vec![0; HEAD];
            pad(&text, &mut message);
            message.len() + TAG
        };
        assert_eq!(size(0), SMALL);
        assert_eq!(size(50_000), SMALL);
        assert_eq!(size(STEP - LENGTHS - 2), SMALL);
        assert_eq!(size(STEP - LENGTHS - 1), SMALL + STEP);
        assert!(size(40 << 20) <= with_photo(40 << 20));
    }
}
