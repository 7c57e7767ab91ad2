//! Random and content-derived names. An id says nothing about what it names.

use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// A text that is not an id of the asked kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IdError {
    /// The text has the wrong number of hexadecimal digits.
    Length {
        /// Digits expected.
        expected: usize,
        /// Characters found.
        found: usize,
    },
    /// A character is not a hexadecimal digit.
    NotHex,
}

impl fmt::Display for IdError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Length { expected, found } => {
                write!(
                    f,
                    "an id has {expected} hexadecimal digits, this has {found} characters"
                )
            }
            Self::NotHex => write!(f, "an id holds only the digits 0-9 and a-f"),
        }
    }
}

impl core::error::Error for IdError {}

fn parse_hex<const N: usize>(text: &str) -> Result<[u8; N], IdError> {
    let digits = text.as_bytes();
    if digits.len() != N * 2 {
        return Err(IdError::Length {
            expected: N * 2,
            found: digits.len(),
        });
    }
    let mut bytes = [0; N];
    for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
        let value = |digit: u8| (digit as char).to_digit(16).ok_or(IdError::NotHex);
        *byte = (value(pair[0])? * 16 + value(pair[1])?) as u8;
    }
    Ok(bytes)
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident, $len:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[cfg_attr(feature = "ts", derive(ts_rs::TS), ts(as = "String"))]
        pub struct $name(pub [u8; $len]);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!(stringify!($name), "({})"), self)
            }
        }

        impl FromStr for $name {
            type Err = IdError;
            fn from_str(text: &str) -> Result<Self, IdError> {
                parse_hex(text).map(Self)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer)?.parse().map_err(de::Error::custom)
            }
        }
    };
}

id! {
    /// One pupil, on every device.
    PupilId, 16
}
id! {
    /// One photographed page.
    PageId, 16
}
id! {
    /// One task of a week.
    TaskId, 16
}
id! {
    /// One mark that a person put on a page.
    MarkId, 16
}
id! {
    /// One thing that a person put right in a reading.
    AmendmentId, 16
}
id! {
    /// One focus period.
    FocusId, 16
}
id! {
    /// One reading of a page; measuring again makes another.
    ReadingId, 16
}
id! {
    /// One time that practice was done.
    PractisedId, 16
}
id! {
    /// One look at how a child sits.
    SetUpId, 16
}
id! {
    /// One answer to a page or a mark.
    ReplyId, 16
}
id! {
    /// One wish that something be forgotten.
    AskId, 16
}
id! {
    /// A device: its Ed25519 public key.
    DeviceId, 32
}
id! {
    /// A blob: the BLAKE3 hash of its bytes.
    BlobId, 32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_survives_text_and_back() {
        let id = PupilId([0xAB; 16]);
        assert_eq!(id.to_string().parse::<PupilId>(), Ok(id));
    }

    #[test]
    fn a_bad_id_is_refused_with_its_reason() {
        assert_eq!(
            "abc".parse::<PupilId>(),
            Err(IdError::Length {
                expected: 32,
                found: 3
            })
        );
        assert_eq!("zz".repeat(16).parse::<PupilId>(), Err(IdError::NotHex));
    }
}
