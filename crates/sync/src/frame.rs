//! Frames: how every message looks on a stream.
//!
//! `length of the body: u32, big-endian | tag: u8 | body: postcard`. The length is
//! checked against the tag's own limit before anything is allocated, and counts inside
//! a body before their items are read. A tag above all known ones is a newer protocol's.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{DeserializeOwned, Error, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::Limits;

/// The highest tag of this version.
const LAST_TAG: u8 = 13;
/// Length and tag.
pub(crate) const HEAD: usize = 5;
/// Changes are gathered up to this many bytes before they are sent.
pub(crate) const BATCH_BYTES: usize = 256 << 10;
/// Most changes in one frame.
pub(crate) const BATCH_CHANGES: usize = 1024;

/// One kind of message.
pub(crate) trait Frame: Serialize + DeserializeOwned {
    /// Its number.
    const TAG: u8;
    /// Its largest body in bytes.
    const LIMIT: usize;
    /// Its name, for errors.
    const NAME: &'static str;
    /// For a frame that opens a conversation and begins with a version: the highest known.
    /// What is behind a higher one may look like anything.
    const VERSION: Option<u16> = None;
}

/// Why a frame cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum FrameError {
    /// The tag is of a newer protocol.
    Newer,
    /// The body is larger than its tag allows.
    TooLarge(&'static str),
    /// The body, or the tag at this place, is wrong.
    Malformed(&'static str),
}

macro_rules! frames {
    ($($(#[$doc:meta])* $name:ident $tag:literal up to $limit:expr, $text:literal
        { $($field:ident: $type:ty,)* } $(in version $version:expr)?;)*) => {
        $(
            $(#[$doc])*
            #[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
            pub(crate) struct $name { $(pub(crate) $field: $type,)* }

            impl Frame for $name {
                const TAG: u8 = $tag;
                const LIMIT: usize = $limit;
                const NAME: &'static str = $text;
                $(const VERSION: Option<u16> = Some($version);)?
            }
        )*

        /// Decodes a body as each kind of frame; for tests that no bytes break it.
        #[cfg(any(test, feature = "fuzz"))]
        pub(crate) fn decode_as_all(body: &[u8]) {
            $(let _ = decode::<$name>(body);)*
        }

        /// Reads a head as that of each kind of frame.
        #[cfg(any(test, feature = "fuzz"))]
        pub(crate) fn open_as_all(head: [u8; HEAD]) {
            $(if let Ok(length) = open::<$name>(head) {
                assert!(length <= $limit);
            })*
        }
    };
}

/// A large enough limit for one item of a list of documents.
const DOCUMENT: usize = Limits::DOCUMENT_ID_BYTES + 12;

frames! {
    /// Opens an exchange, from both sides: who speaks, what it takes at most, the digest of
    /// its list of documents, and whether the list itself follows at once.
    Hello 1 up to 256, "greeting" {
        version: u16,
        changes: u64,
        change_bytes: u64,
        digest: [u8; 32],
        have: bool,
    } in version crate::exchange::VERSION;
    /// The documents that the sender has, with the number of changes of each.
    Have 2 up to Limits::DOCUMENTS * DOCUMENT + 8, "list of documents" {
        documents: AtMost<(Octets<{ Limits::DOCUMENT_ID_BYTES }>, u64), { Limits::DOCUMENTS }>,
    };
    /// Changes that the other side lacks.
    Changes 3 up to Limits::CHANGE_BYTES + BATCH_BYTES, "batch of changes" {
        changes: AtMost<Octets<{ Limits::CHANGE_BYTES }>, BATCH_CHANGES>,
        last: bool,
    };
    /// Ends an exchange, from both sides: what the sender took.
    Done 4 up to 64, "summary" {
        changes: u64,
        refused: u64,
        blobs: u64,
        more: bool,
    };
    /// Opens a stream of its own: asks for a blob's outline, and its bytes from one on.
    Ask 5 up to 64, "question for a blob" {
        scope: [u8; 16],
        id: [u8; 32],
        offset: u64,
    };
    /// Answers: if it is held, its outline follows, and the bytes from the offset on to the
    /// stream's end.
    Answer 6 up to 16, "answer about a blob" {
        answer: BlobAnswer,
    };

    /// Opens a pairing: the joining device commits itself to a nonce.
    Knock 7 up to 256, "knock" {
        version: u16,
        commitment: [u8; 32],
    } in version crate::pairing::VERSION;
    /// The offering device's nonce.
    Challenge 8 up to 64, "challenge" {
        nonce: [u8; 32],
    };
    /// The joining device's nonce, and its proof of the secret.
    Proof 9 up to 128, "proof" {
        nonce: [u8; 32],
        mac: [u8; 32],
    };
    /// The offering device's proof of the secret.
    CounterProof 10 up to 64, "answering proof" {
        mac: [u8; 32],
    };
    /// The person at the sending device confirmed.
    Confirmed 11 up to 8, "confirmation" {};
    /// What is handed over.
    About 12 up to Limits::ABOUT_BYTES + 512, "payload" {
        about: Octets<{ Limits::ABOUT_BYTES }>,
        addresses: AtMost<std::net::SocketAddr, { Limits::CODE_ADDRESSES }>,
    };
    /// The joining device has all that it needs.
    Kept 13 up to 8, "receipt" {};
}

/// What a device says about a blob.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum BlobAnswer {
    /// Not here, or not for the asking device.
    Missing,
    /// Here, with its whole length in bytes.
    Held(u64),
    /// No more in this meeting.
    Later,
}

/// The whole frame as bytes.
pub(crate) fn encode<F: Frame>(frame: &F) -> Vec<u8> {
    let head = vec![0, 0, 0, 0, F::TAG];
    // The sender bounds what it puts in; serialising into memory has no other failure.
    let mut bytes = postcard::to_extend(frame, head).expect("frames of plain data serialise");
    let length = bytes.len() - HEAD;
    debug_assert!(length <= F::LIMIT, "{} of {length} bytes", F::NAME);
    bytes[..4].copy_from_slice(&(length as u32).to_be_bytes());
    bytes
}

/// Checks the head of a frame where `F` is due; gives the length of its body.
pub(crate) fn open<F: Frame>(head: [u8; HEAD]) -> Result<usize, FrameError> {
    let [length @ .., tag] = head;
    if tag != F::TAG {
        return Err(if tag > LAST_TAG {
            FrameError::Newer
        } else {
            FrameError::Malformed(F::NAME)
        });
    }
    let length = u32::from_be_bytes(length) as usize;
    if length > F::LIMIT {
        return Err(FrameError::TooLarge(F::NAME));
    }
    Ok(length)
}

/// Reads a body, all of it; a version before what may look different in another one.
pub(crate) fn decode<F: Frame>(body: &[u8]) -> Result<F, FrameError> {
    if let Some(known) = F::VERSION
        && postcard::take_from_bytes::<u16>(body).is_ok_and(|(version, _)| version > known)
    {
        return Err(FrameError::Newer);
    }
    match postcard::take_from_bytes(body) {
        Ok((frame, [])) => Ok(frame),
        _ => Err(FrameError::Malformed(F::NAME)),
    }
}

/// At most `N` bytes, written as one run.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct Octets<const N: usize>(pub(crate) Vec<u8>);

impl<const N: usize> Serialize for Octets<N> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_bytes(&self.0)
    }
}

impl<'de, const N: usize> Deserialize<'de> for Octets<N> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Run<const N: usize>;
        impl<const N: usize> Visitor<'_> for Run<N> {
            type Value = Octets<N>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "at most {N} bytes")
            }
            fn visit_bytes<E: Error>(self, bytes: &[u8]) -> Result<Self::Value, E> {
                if bytes.len() > N {
                    return Err(E::invalid_length(bytes.len(), &self));
                }
                Ok(Octets(bytes.to_vec()))
            }
        }
        deserializer.deserialize_bytes(Run)
    }
}

/// At most `N` items.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct AtMost<T, const N: usize>(pub(crate) Vec<T>);

impl<T: Serialize, const N: usize> Serialize for AtMost<T, N> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.serialize(serializer)
    }
}

impl<'de, T: Deserialize<'de>, const N: usize> Deserialize<'de> for AtMost<T, N> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Items<T, const N: usize>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>, const N: usize> Visitor<'de> for Items<T, N> {
            type Value = AtMost<T, N>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "at most {N} items")
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
                let told = seq.size_hint().unwrap_or(0);
                if told > N {
                    return Err(A::Error::invalid_length(told, &self));
                }
                let mut items = Vec::with_capacity(told.min(64));
                while let Some(item) = seq.next_element()? {
                    if items.len() == N {
                        return Err(A::Error::invalid_length(N + 1, &self));
                    }
                    items.push(item);
                }
                Ok(AtMost(items))
            }
        }
        deserializer.deserialize_seq(Items(PhantomData))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn head(length: u32, tag: u8) -> [u8; HEAD] {
        let [a, b, c, d] = length.to_be_bytes();
        [a, b, c, d, tag]
    }

    #[test]
    fn a_frame_has_the_written_layout() {
        let bytes = encode(&Ask {
            scope: [3; 16],
            id: [7; 32],
            offset: 300,
        });
        // Postcard: an array has no length, 300 is the varint AC 02.
        let mut expected = vec![0, 0, 0, 50, 5];
        expected.extend([3; 16]);
        expected.extend([7; 32]);
        expected.extend([0xAC, 0x02]);
        assert_eq!(bytes, expected);
    }

    #[test]
    fn lengths_and_tags_are_judged_before_the_body() {
        assert_eq!(open::<Done>(head(64, 4)), Ok(64));
        assert_eq!(
            open::<Done>(head(65, 4)),
            Err(FrameError::TooLarge("summary"))
        );
        assert_eq!(
            open::<Done>(head(u32::MAX, 4)),
            Err(FrameError::TooLarge("summary"))
        );
        assert_eq!(
            open::<Done>(head(1, 3)),
            Err(FrameError::Malformed("summary"))
        );
        assert_eq!(open::<Done>(head(1, LAST_TAG + 1)), Err(FrameError::Newer));
    }

    #[test]
    fn a_count_beyond_its_bound_is_refused_before_its_items() {
        // 1,025 empty changes: a small body that would grow in memory.
        let mut body = vec![0x81, 0x08];
        body.extend([0; 1025]);
        body.push(1);
        assert_eq!(
            decode::<Changes>(&body),
            Err(FrameError::Malformed("batch of changes"))
        );
        body[0] = 0x80;
        body.remove(2);
        assert_eq!(decode::<Changes>(&body).unwrap().changes.0.len(), 1024);
        // A count of 2^63 with nothing behind it.
        let huge = [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x7F];
        assert!(decode::<Changes>(&huge).is_err());
        assert!(decode::<Have>(&huge).is_err());
    }

    #[test]
    fn a_version_is_judged_before_what_is_behind_it() {
        let newer = [crate::exchange::VERSION as u8 + 1, 9, 9];
        assert_eq!(decode::<Hello>(&newer), Err(FrameError::Newer));
        assert_eq!(decode::<Knock>(&newer), Err(FrameError::Newer));
        let greeting = Err(FrameError::Malformed("greeting"));
        assert_eq!(
            decode::<Hello>(&[crate::exchange::VERSION as u8, 9, 9]),
            greeting
        );
        assert_eq!(decode::<Hello>(&[]), greeting);
        let mut hello = encode(&Hello {
            version: crate::exchange::VERSION,
            changes: 0,
            change_bytes: 0,
            digest: [0; 32],
            have: false,
        });
        assert!(decode::<Hello>(&hello[HEAD..]).is_ok());
        hello.push(0);
        assert_eq!(decode::<Hello>(&hello[HEAD..]), greeting);
    }

    proptest! {
        #[test]
        fn no_bytes_make_decoding_panic(body in prop::collection::vec(any::<u8>(), 0..2048)) {
            decode_as_all(&body);
        }

        #[test]
        fn changes_survive_bytes_and_back(
            changes in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..64), 0..32),
            last: bool,
        ) {
            let frame = Changes { changes: AtMost(changes.into_iter().map(Octets).collect()), last };
            let bytes = encode(&frame);
            let length = open::<Changes>(*bytes.first_chunk().unwrap()).unwrap();
            prop_assert_eq!(length, bytes.len() - HEAD);
            prop_assert_eq!(decode::<Changes>(&bytes[HEAD..]), Ok(frame));
        }

        #[test]
        fn truncated_frames_are_refused(cut in 0..50usize) {
            let bytes = encode(&Ask { scope: [2; 16], id: [1; 32], offset: 300 });
            prop_assert!(decode::<Ask>(&bytes[HEAD..HEAD + cut]).is_err());
        }
    }
}
