//! The pairing code: what one device shows and another reads, by camera or by hand.
//!
//! Bytes, in order: one byte with the version (upper four bits) and the number of
//! addresses (lower four), the device's public key (32), the one-time secret (16), the
//! addresses (a 4 or a 6, then the IP address, then the port, big-endian), and two
//! bytes of the BLAKE3 hash of all before them.
//!
//! Text: five bits a character in the digits of [`base32`](super::base32), in groups of
//! five and a check character, with a hyphen between groups.

use std::fmt;
use std::net::{IpAddr, SocketAddr};
use std::str::FromStr;

use thiserror::Error;
use units::DeviceId;

use super::base32;
use crate::Limits;

/// The text that one device shows and another reads, by camera or by hand.
///
/// Lower and upper case, spaces and hyphens make no difference; `O` is read as 0, `I`
/// and `L` as 1. All characters are of the QR code's alphanumeric mode (ISO/IEC 18004).
#[derive(Clone, PartialEq, Eq)]
pub struct PairingCode {
    device: DeviceId,
    addresses: Vec<SocketAddr>,
    secret: Secret,
}

/// The one-time secret. Comparing it is never needed outside tests and codes.
pub(crate) type Secret = [u8; 16];

/// A text that is not a pairing code.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CodeError {
    /// Nothing but spaces.
    #[error("the code is empty")]
    Empty,
    /// A character that no code holds.
    #[error("a code never holds the character {0:?}")]
    Character(char),
    /// A group does not fit its own check character.
    #[error("there is a slip in group {group}: compare it again")]
    Slip {
        /// Which group, from 1.
        group: usize,
    },
    /// Groups are missing at the end.
    #[error("the code is not complete")]
    Short,
    /// There is more than one code, or something behind it.
    #[error("there is something behind the end of the code")]
    Long,
    /// The groups fit, the whole does not.
    #[error("the code does not fit together: compare all of it again")]
    Whole,
    /// Made by a newer version.
    #[error("the code comes from a newer version: update this device")]
    Newer,
    /// An address in it is of no known kind.
    #[error("the code holds an address of no known kind")]
    Address,
}

const VERSION: u8 = 1;
const SUM: usize = 2;

impl PairingCode {
    pub(crate) fn new(device: DeviceId, addresses: &[SocketAddr], secret: Secret) -> Self {
        let addresses = addresses
            .iter()
            .copied()
            .take(Limits::CODE_ADDRESSES)
            .collect();
        Self {
            device,
            addresses,
            secret,
        }
    }

    /// The device that made the offer.
    pub fn device(&self) -> DeviceId {
        self.device
    }

    /// Where it can be reached.
    pub fn addresses(&self) -> &[SocketAddr] {
        &self.addresses
    }

    /// The same code with other addresses, such as one typed by hand.
    #[must_use]
    pub fn at(&self, addresses: &[SocketAddr]) -> Self {
        Self::new(self.device, addresses, self.secret)
    }

    pub(crate) fn secret(&self) -> &Secret {
        &self.secret
    }

    fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = vec![VERSION << 4 | self.addresses.len() as u8];
        bytes.extend(self.device.0);
        bytes.extend(self.secret);
        for address in &self.addresses {
            match address.ip() {
                IpAddr::V4(ip) => {
                    bytes.push(4);
                    bytes.extend(ip.octets());
                }
                IpAddr::V6(ip) => {
                    bytes.push(6);
                    bytes.extend(ip.octets());
                }
            }
            bytes.extend(address.port().to_be_bytes());
        }
        let sum = sum(&bytes);
        bytes.extend(sum);
        bytes
    }

    fn from_bytes(bytes: &[u8]) -> Result<Self, CodeError> {
        let mut rest = Rest(bytes);
        let [head] = rest.take()?;
        if head >> 4 != VERSION {
            return Err(CodeError::Newer);
        }
        let device = DeviceId(rest.take()?);
        let secret = rest.take()?;
        let mut addresses = Vec::new();
        for _ in 0..head & 15 {
            let ip = match rest.take()? {
                [4] => IpAddr::from(rest.take::<4>()?),
                [6] => IpAddr::from(rest.take::<16>()?),
                _ => return Err(CodeError::Address),
            };
            addresses.push(SocketAddr::new(ip, u16::from_be_bytes(rest.take()?)));
        }
        let covered = &bytes[..bytes.len() - rest.0.len()];
        let told: [u8; SUM] = rest.take()?;
        if !rest.0.is_empty() {
            return Err(CodeError::Long);
        }
        if told != sum(covered) {
            return Err(CodeError::Whole);
        }
        Ok(Self {
            device,
            addresses,
            secret,
        })
    }
}

fn sum(bytes: &[u8]) -> [u8; SUM] {
    let hash = blake3::hash(bytes);
    let [first, second, ..] = *hash.as_bytes();
    [first, second]
}

/// Bytes not read yet.
struct Rest<'a>(&'a [u8]);

impl Rest<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], CodeError> {
        let (taken, rest) = self.0.split_first_chunk().ok_or(CodeError::Short)?;
        self.0 = rest;
        Ok(*taken)
    }
}

impl fmt::Display for PairingCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&base32::encode(&self.to_bytes()))
    }
}

impl fmt::Debug for PairingCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("PairingCode")
            .field("device", &self.device)
            .field("addresses", &self.addresses)
            .finish_non_exhaustive()
    }
}

impl FromStr for PairingCode {
    type Err = CodeError;
    fn from_str(text: &str) -> Result<Self, CodeError> {
        Self::from_bytes(&base32::decode(text)?)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn example() -> PairingCode {
        let device = DeviceId(core::array::from_fn(|i| i as u8));
        let addresses = ["192.0.2.7:4433".parse().unwrap()];
        PairingCode::new(device, &addresses, [0xA5; 16])
    }

    #[test]
    fn a_typed_code_is_read_as_the_shown_one() {
        let shown = example().to_string();
        let typed = shown.to_lowercase().replace('0', "o").replace('-', " ");
        assert_eq!(typed.parse(), Ok(example()));
        assert_eq!(shown.len(), 19 * 6 + 18 - 2, "a code with one address");
    }

    #[test]
    fn bad_codes_are_refused_with_their_reason() {
        let shown = example().to_string();
        let read = |text: &str| text.parse::<PairingCode>().unwrap_err();
        assert_eq!(read(" \n"), CodeError::Empty);
        assert_eq!(read("hello, world"), CodeError::Character(','));
        assert_eq!(read(&shown[..shown.len() - 5]), CodeError::Short);
        let twice = read(&format!("{shown}-{shown}"));
        assert!(matches!(twice, CodeError::Slip { group: 19.. }));
        let mut later = example().to_bytes();
        later[0] = 2 << 4;
        assert_eq!(read(&base32::encode(&later)), CodeError::Newer);
        let mut other = example().to_bytes();
        other[40] ^= 1;
        assert_eq!(read(&base32::encode(&other)), CodeError::Whole);
        other.push(0);
        assert_eq!(read(&base32::encode(&other)), CodeError::Long);
        let mut odd = example().to_bytes();
        odd[49] = 5;
        assert_eq!(read(&base32::encode(&odd)), CodeError::Address);
    }

    #[test]
    fn the_secret_is_never_in_a_log() {
        assert!(!format!("{:?}", example()).contains("165"));
    }

    prop_compose! {
        fn codes()(
            device: [u8; 32],
            secret: [u8; 16],
            addresses: [(bool, [u8; 16], u16); 8],
            count in 0..=8usize,
        ) -> PairingCode {
            let addresses: Vec<_> = addresses[..count].iter().map(|&(six, ip, port)| {
                let four: [u8; 4] = *ip.first_chunk().unwrap();
                let ip = if six { IpAddr::from(ip) } else { IpAddr::from(four) };
                SocketAddr::new(ip, port)
            }).collect();
            PairingCode::new(DeviceId(device), &addresses, secret)
        }
    }

    proptest! {
        #[test]
        fn any_code_survives_text_and_back(code in codes()) {
            prop_assert_eq!(code.to_string().parse(), Ok(code));
        }

        #[test]
        fn one_wrong_character_is_found_in_its_group(
            code in codes(), at: prop::sample::Index, by in 1..32usize,
        ) {
            const DIGITS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
            let mut text = code.to_string().into_bytes();
            let places: Vec<_> = (0..text.len()).filter(|&i| text[i] != b'-').collect();
            let place = places[at.index(places.len())];
            let digit = DIGITS.iter().position(|&d| d == text[place]).unwrap();
            text[place] = DIGITS[(digit + by) % 32];
            let text = String::from_utf8(text).unwrap();
            let group = place / 7 + 1;
            prop_assert_eq!(text.parse::<PairingCode>(), Err(CodeError::Slip { group }));
        }

        #[test]
        fn two_characters_or_groups_swapped_are_found(
            code in codes(), at: prop::sample::Index, groups: bool,
        ) {
            let mut text = code.to_string().into_bytes();
            if groups {
                let full = (text.len() + 1) / 7;
                let first = at.index(full - 1) * 7;
                let (left, right) = text[first..].split_at_mut(7);
                left[..6].swap_with_slice(&mut right[..6]);
            } else {
                let i = at.index(text.len() - 1);
                let j = if text[i + 1] == b'-' { i } else { i + 1 };
                text.swap(i, j);
            }
            let text = String::from_utf8(text).unwrap();
            prop_assume!(text != code.to_string());
            prop_assume!(text.replace('-', "") != code.to_string().replace('-', ""));
            let refused = matches!(text.parse::<PairingCode>(), Err(CodeError::Slip { .. }));
            prop_assert!(refused);
        }

        #[test]
        fn no_text_makes_reading_panic(text in ".{0,200}") {
            let _ = text.parse::<PairingCode>();
        }

        #[test]
        fn no_bytes_make_reading_panic(bytes: Vec<u8>) {
            if let Ok(code) = PairingCode::from_bytes(&bytes) {
                prop_assert_eq!(code.to_bytes(), bytes);
            }
        }
    }
}
