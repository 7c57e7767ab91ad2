//! Keys and passphrases. They are wiped when dropped and never printed.

use std::fmt;

use icu_normalizer::ComposingNormalizerBorrowed;
use zeroize::Zeroizing;

/// 32 random bytes.
// Boxed, so that moving a key leaves no copy of it behind.
#[derive(Clone, PartialEq, Eq)]
pub struct Key(Box<Zeroizing<[u8; Key::LENGTH]>>);

impl Key {
    /// Bytes in a key.
    pub const LENGTH: usize = 32;

    /// A key that is kept elsewhere: in a file, by the system's service manager.
    pub fn new(bytes: [u8; Self::LENGTH]) -> Self {
        Self(Box::new(Zeroizing::new(bytes)))
    }

    pub(crate) fn random() -> std::io::Result<Self> {
        let mut key = Self::new([0; Self::LENGTH]);
        getrandom::fill(key.0.as_mut_slice())?;
        Ok(key)
    }

    /// `None` if these are not as many bytes as a key has.
    pub(crate) fn from_slice(bytes: &[u8]) -> Option<Self> {
        let mut key = Self::new([0; Self::LENGTH]);
        if bytes.len() != Self::LENGTH {
            return None;
        }
        key.0.copy_from_slice(bytes);
        Some(key)
    }

    /// A key that is made by writing all of it.
    pub(crate) fn filled<E>(fill: impl FnOnce(&mut [u8]) -> Result<(), E>) -> Result<Self, E> {
        let mut key = Self::new([0; Self::LENGTH]);
        fill(key.0.as_mut_slice())?;
        Ok(key)
    }

    pub(crate) fn bytes(&self) -> &[u8; Self::LENGTH] {
        &self.0
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Key(…)")
    }
}

/// A passphrase as a person typed it, in the one form in which it opens on every keyboard.
///
/// Prepared as RFC 8265 section 4.2.2 has it for passwords: other spaces become the plain one, and
/// composed and decomposed letters the same (NFC). Nothing else is altered; whether it is long
/// enough to be safe is for the caller to judge.
#[derive(Clone)]
pub struct Passphrase(Zeroizing<String>);

impl Passphrase {
    /// Takes the text over and wipes it.
    pub fn new(text: impl Into<String>) -> Self {
        let text = Zeroizing::new(text.into());
        // At its full size from the beginning, so that no copy is left where it grew.
        let mut spaced = Zeroizing::new(String::with_capacity(text.len()));
        spaced.extend(text.chars().map(plain_space));
        let normal = ComposingNormalizerBorrowed::new_nfc().normalize(&spaced);
        Self(Zeroizing::new(normal.into_owned()))
    }

    pub(crate) fn text(&self) -> &str {
        &self.0
    }
}

/// The plain space for every other character of Unicode's category Zs.
fn plain_space(c: char) -> char {
    match c {
        '\u{A0}' | '\u{1680}' | '\u{2000}'..='\u{200A}' | '\u{202F}' | '\u{205F}' | '\u{3000}' => {
            ' '
        }
        other => other,
    }
}

impl fmt::Debug for Passphrase {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Passphrase(…)")
    }
}

/// Who holds the key of a data folder.
#[derive(Debug, Clone)]
pub enum Opener {
    /// The system's keyring, opened by logging in to the system.
    Keyring,
    /// A person who knows a passphrase.
    Passphrase(Passphrase),
    /// Whoever hands in this key: a key file, a service manager's credential.
    Key(Key),
}

impl Opener {
    /// What kind of opener this is.
    pub fn holder(&self) -> Holder {
        match self {
            Self::Keyring => Holder::Keyring,
            Self::Passphrase(_) => Holder::Passphrase,
            Self::Key(_) => Holder::Key,
        }
    }
}

/// What kind of opener a folder needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holder {
    /// The system's keyring.
    Keyring,
    /// A passphrase.
    Passphrase,
    /// A key from elsewhere.
    Key,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8265 section 4.3, table 4: what may be a password, and what is compared.
    #[test]
    fn passphrases_are_prepared_as_the_standard_has_it() {
        let kept = |text: &str| Passphrase::new(text).text().to_owned();
        assert_eq!(
            kept("correct horse battery staple"),
            "correct horse battery staple"
        );
        assert_eq!(
            kept("Correct Horse Battery Staple"),
            "Correct Horse Battery Staple"
        );
        assert_eq!(kept("\u{3C0}\u{DF}\u{E5}"), "\u{3C0}\u{DF}\u{E5}");
        assert_eq!(kept("Jack of \u{2666}s"), "Jack of \u{2666}s");
        assert_eq!(kept("foo\u{1680}bar"), "foo bar");
        // Section 4.2.2, rule 4: a letter and its combining ring are the letter with a ring.
        assert_eq!(kept("a\u{30A}"), "\u{E5}");
    }

    #[test]
    fn secrets_are_not_printed() {
        let opener = [
            Opener::Key(Key::new([0x41; 32])),
            Opener::Passphrase(Passphrase::new("Wren by the weir")),
        ];
        let printed = format!("{opener:?}");
        assert!(
            !printed.contains("41") && !printed.contains("65"),
            "{printed}"
        );
        assert!(!printed.contains("Wren"), "{printed}");
    }
}
