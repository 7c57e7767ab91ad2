//! The age file around a backup.

use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;

use age::secrecy::SecretString;
use age::stream::{StreamReader, StreamWriter};
use age::{DecryptError, Decryptor, Encryptor, Identity, Recipient, scrypt};

use crate::{BackupError, Passphrase};

/// The work of trying one passphrase, as a power of two: scrypt with N = 2^17, r = 8, p = 1 takes
/// 128 MiB. What the password storage cheat sheet of the OWASP foundation recommends; from memory.
const WORK: u8 = 17;
/// The most work that a file may ask for: 1 GiB, and some seconds.
const MOST_WORK: u8 = 20;
/// A header for one passphrase is shorter.
const LONGEST_HEADER: usize = 1024;

/// Seals what is written. Whole only when `finish` was called on it.
pub(super) fn seal<W: Write>(
    to: W,
    passphrase: &Passphrase,
) -> Result<StreamWriter<W>, BackupError> {
    let mut recipient = scrypt::Recipient::new(secret(passphrase));
    recipient.set_work_factor(WORK);
    let recipients = std::iter::once(&recipient as &dyn Recipient);
    let encryptor = Encryptor::with_recipients(recipients)
        .expect("a passphrase is a recipient that stands alone");
    Ok(encryptor.wrap_output(to)?)
}

/// What is sealed in the file.
pub(super) fn open(path: &Path, passphrase: &Passphrase) -> Result<impl Read, BackupError> {
    opened(BufReader::new(File::open(path)?), passphrase)
}

fn opened<R: BufRead>(
    mut from: R,
    passphrase: &Passphrase,
) -> Result<StreamReader<R>, BackupError> {
    // Looked at first: age itself reads a header of any length.
    let start = from.fill_buf()?;
    let start = &start[..start.len().min(LONGEST_HEADER)];
    let has_end = start.windows(5).any(|bytes| bytes == b"\n--- ");
    if !start.starts_with(b"age-encryption.org/v1\n") || !has_end {
        return Err(BackupError::NotABackup);
    }
    let decryptor = Decryptor::new_buffered(from).map_err(refused)?;
    if !decryptor.is_scrypt() {
        return Err(BackupError::NotABackup);
    }
    let mut identity = scrypt::Identity::new(secret(passphrase));
    identity.set_max_work_factor(MOST_WORK);
    decryptor
        .decrypt(std::iter::once(&identity as &dyn Identity))
        .map_err(refused)
}

fn secret(passphrase: &Passphrase) -> SecretString {
    SecretString::from(passphrase.text())
}

fn refused(error: DecryptError) -> BackupError {
    let damaged = |what: &str| BackupError::Damaged(what.to_owned());
    match error {
        DecryptError::DecryptionFailed
        | DecryptError::KeyDecryptionFailed
        | DecryptError::NoMatchingKeys => BackupError::WrongPassphrase,
        DecryptError::ExcessiveWork { .. } => damaged("it asks for too much work"),
        DecryptError::InvalidMac => damaged("its first lines were altered"),
        DecryptError::InvalidHeader => damaged("its first lines are not whole"),
        DecryptError::Io(error) => super::records::unreadable(error),
        _ => BackupError::NotABackup,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn sealed(work: u8, plain: &[u8]) -> Vec<u8> {
        let mut recipient = scrypt::Recipient::new(SecretString::from("heron"));
        recipient.set_work_factor(work);
        age::encrypt(&recipient, plain).unwrap()
    }

    fn read(bytes: &[u8]) -> Result<Vec<u8>, BackupError> {
        let mut plain = Vec::new();
        let mut reader = opened(bytes, &Passphrase::new("heron"))?;
        let read = reader.read_to_end(&mut plain);
        read.map_err(super::super::records::unreadable)?;
        Ok(plain)
    }

    #[test]
    fn any_altered_byte_and_any_cut_is_noticed() {
        let whole = sealed(2, b"a photograph");
        assert_eq!(read(&whole).unwrap(), b"a photograph");
        for at in 0..whole.len() {
            let mut bytes = whole.clone();
            bytes[at] ^= 1;
            assert!(read(&bytes).is_err(), "{at}");
            assert!(read(&whole[..at]).is_err(), "cut at {at}");
        }
    }

    /// Refused by what it says of itself: a gigabyte more would be taken for each step up.
    #[test]
    fn work_that_nobody_could_wait_for_is_refused() {
        let text = |work: u8| format!(" {work}\n").into_bytes();
        let whole = sealed(12, b"");
        let at = whole
            .windows(4)
            .position(|bytes| bytes == text(12))
            .unwrap();
        for work in [MOST_WORK + 1, 30, 63, 64, 99] {
            let mut bytes = whole.clone();
            bytes[at..at + 4].copy_from_slice(&text(work));
            assert!(
                matches!(read(&bytes), Err(BackupError::Damaged(_))),
                "{work}"
            );
        }
    }

    /// How much of it was asked for, when nothing in it ends a header.
    struct Endless(usize);

    impl Read for Endless {
        fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
            to.fill(b'x');
            if self.0 == 0 {
                to[..22].copy_from_slice(b"age-encryption.org/v1\n");
            }
            self.0 += to.len();
            Ok(to.len())
        }
    }

    #[test]
    fn a_header_that_never_ends_is_refused() {
        let mut endless = BufReader::new(Endless(0));
        let refused = opened(&mut endless, &Passphrase::new("heron")).map(drop);
        assert!(
            matches!(refused, Err(BackupError::NotABackup)),
            "{refused:?}"
        );
        assert!(endless.get_ref().0 <= 1 << 16);
    }

    proptest! {
        #[test]
        fn bytes_from_nowhere_are_refused(tail in proptest::collection::vec(any::<u8>(), 0..600)) {
            prop_assert!(read(&tail).is_err());
            let begun = [b"age-encryption.org/v1\n".as_slice(), &tail].concat();
            prop_assert!(read(&begun).is_err());
            let further = [begun, b"\n--- ".to_vec(), tail].concat();
            prop_assert!(read(&further).is_err());
        }
    }
}
