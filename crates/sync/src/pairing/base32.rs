//! Bytes as text for typing: five bits a digit, in groups that check themselves.
//!
//! The digits are the ten numerals and the letters without I, L, O and U. A group is
//! five digits (the last one: one to five) and one check digit over the group and its
//! number, so that a slip is found in its group, any two neighbours swapped too.

use super::CodeError;

const DIGITS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const GROUP: usize = 5;

/// Longest text read: beyond any code.
const MOST_CHARACTERS: usize = 4096;

pub(super) fn encode(bytes: &[u8]) -> String {
    let digits = to_digits(bytes);
    let mut text = String::with_capacity(digits.len() * 7 / GROUP + 2);
    for (number, group) in digits.chunks(GROUP).enumerate() {
        if number > 0 {
            text.push('-');
        }
        for &digit in group.iter().chain([&check(number, group)]) {
            text.push(char::from(DIGITS[usize::from(digit)]));
        }
    }
    text
}

pub(super) fn decode(text: &str) -> Result<Vec<u8>, CodeError> {
    let mut digits = Vec::new();
    for character in text.chars() {
        if character == '-' || character.is_whitespace() {
            continue;
        }
        if digits.len() == MOST_CHARACTERS {
            return Err(CodeError::Long);
        }
        digits.push(value(character).ok_or(CodeError::Character(character))?);
    }
    if digits.is_empty() {
        return Err(CodeError::Empty);
    }
    let mut plain = Vec::with_capacity(digits.len());
    for (number, group) in digits.chunks(GROUP + 1).enumerate() {
        let (told, group) = group.split_last().ok_or(CodeError::Short)?;
        if group.is_empty() || check(number, group) != *told {
            return Err(CodeError::Slip { group: number + 1 });
        }
        plain.extend_from_slice(group);
    }
    Ok(from_digits(&plain))
}

fn value(character: char) -> Option<u8> {
    let plain = match character.to_ascii_uppercase() {
        'O' => '0',
        'I' | 'L' => '1',
        other => other,
    };
    let at = DIGITS.iter().position(|&digit| char::from(digit) == plain);
    at.map(|at| at as u8)
}

/// The value of the polynomial with these digits at a generator of GF(32), Horner's way:
/// the powers of a generator differ, so one slip or one swap always changes it.
fn check(number: usize, group: &[u8]) -> u8 {
    // Starting from 1 + number keeps a group of zeros from passing at every place.
    let start = ((number + 1) % 32) as u8;
    doubled(group.iter().fold(start, |sum, &digit| doubled(sum) ^ digit))
}

/// Times x in GF(2)\[x\] modulo x^5 + x^2 + 1, which is primitive.
fn doubled(value: u8) -> u8 {
    let shifted = value << 1;
    if shifted & 0b10_0000 == 0 {
        shifted
    } else {
        shifted ^ 0b10_0101
    }
}

fn to_digits(bytes: &[u8]) -> Vec<u8> {
    let mut digits = Vec::with_capacity(bytes.len() * 8 / 5 + 1);
    let (mut held, mut bits) = (0u32, 0);
    for &byte in bytes {
        held = held << 8 | u32::from(byte);
        bits += 8;
        while bits >= 5 {
            bits -= 5;
            digits.push((held >> bits & 31) as u8);
        }
    }
    if bits > 0 {
        digits.push((held << (5 - bits) & 31) as u8);
    }
    digits
}

/// Bits that fill up the last digit are left out.
fn from_digits(digits: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(digits.len() * 5 / 8);
    let (mut held, mut bits) = (0u32, 0);
    for &digit in digits {
        held = held << 5 | u32::from(digit);
        bits += 5;
        if bits >= 8 {
            bits -= 8;
            bytes.push((held >> bits & 255) as u8);
        }
    }
    bytes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn doubling_goes_through_all_31_values_other_than_zero() {
        let mut seen = vec![1];
        while doubled(seen[seen.len() - 1]) != 1 {
            seen.push(doubled(seen[seen.len() - 1]));
        }
        seen.sort_unstable();
        assert_eq!(seen, (1..32).collect::<Vec<_>>());
    }

    #[test]
    fn digits_hold_the_bits_in_order() {
        // RFC 4648, section 10: "foobar" in base32 is MZXW6YTBOI, whose letters stand for
        // 12 25 23 22 30 24 19 1 14 8 (section 6); only the signs for the values differ here.
        assert_eq!(to_digits(b"foobar"), [12, 25, 23, 22, 30, 24, 19, 1, 14, 8]);
    }

    proptest! {
        #[test]
        fn bytes_survive_digits_and_back(bytes: Vec<u8>) {
            prop_assert_eq!(from_digits(&to_digits(&bytes)), bytes);
        }
    }
}
