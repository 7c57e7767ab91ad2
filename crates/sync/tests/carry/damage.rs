//! Files that were damaged or cut off on the way.

use sync::carry::{OpenError, Parcel};

use crate::*;

/// What an accident may look like. None of these blames a device.
fn is_accident(error: &OpenError) -> bool {
    matches!(
        error,
        OpenError::Damaged
            | OpenError::Cut
            | OpenError::Foreign
            | OpenError::NotPost
            | OpenError::Newer
    )
}

fn refused(file: &[u8], what: &str) -> OpenError {
    let error = open_as(&TUTOR, file).expect_err(what);
    assert!(is_accident(&error), "{what}: {error:?}");
    error
}

#[test]
fn any_bit_that_is_turned_spoils_the_file() {
    let mut file = post(&small());
    for at in 0..file.len() {
        for bit in 0..8 {
            file[at] ^= 1 << bit;
            refused(&file, &format!("bit {bit} of byte {at}"));
            file[at] ^= 1 << bit;
        }
    }
    assert!(open_as(&TUTOR, &file).is_ok());
}

#[test]
fn any_byte_lost_added_or_doubled_spoils_the_file() {
    let file = post(&small());
    for at in 0..file.len() {
        let (before, after) = file.split_at(at);
        refused(&[before, &after[1..]].concat(), &format!("without {at}"));
        refused(&[before, &[0x20], after].concat(), &format!("more at {at}"));
        refused(
            &[before, &after[..1], after].concat(),
            &format!("{at} twice"),
        );
    }
    refused(&[&file[..], &file[..]].concat(), "twice");
    refused(&[&file[..], &[0]].concat(), "with a byte more");
}

#[test]
fn a_file_cut_off_anywhere_is_refused() {
    let file = post(&small());
    for length in 0..file.len() {
        refused(&file[..length], &format!("{length} bytes"));
    }
}

#[test]
fn a_large_file_that_is_cut_off_is_told_from_a_damaged_one() {
    let parcel = Parcel {
        scope: SCOPE.to_vec(),
        blobs: vec![blob(1, 300_000)],
        ..Parcel::default()
    };
    let file = post(&parcel);
    // Beyond the first 64 KiB that are encrypted together, and within the header.
    let beyond = (67_000..file.len()).step_by(997);
    for length in (0..50).chain(beyond).chain([file.len() - 1]) {
        let error = refused(&file[..length], &format!("{length} bytes"));
        assert!(matches!(error, OpenError::Cut), "{length}: {error:?}");
    }
    for at in (67_000..file.len()).step_by(9973) {
        let mut file = file.clone();
        file[at] ^= 1;
        let error = refused(&file, &format!("byte {at}"));
        assert!(matches!(error, OpenError::Damaged), "{at}: {error:?}");
    }
}

#[test]
fn chunks_that_changed_places_spoil_the_file() {
    let parcel = Parcel {
        scope: SCOPE.to_vec(),
        blobs: vec![blob(1, 300_000)],
        ..Parcel::default()
    };
    let file = post(&parcel);
    // After the header's last line comes a nonce of 16 bytes, then chunk after chunk.
    let mac = file.windows(5).position(|at| at == b"\n--- ").unwrap();
    let first = mac + 5 + 43 + 1 + 16;
    let chunk = (64 << 10) + 16;
    for at in [first, first + chunk, first + 2 * chunk] {
        let mut file = file.clone();
        let (left, right) = file[at..at + 2 * chunk].split_at_mut(chunk);
        left.swap_with_slice(right);
        refused(&file, "two chunks changed places");
        let without = [&file[..at], &file[at + chunk..]].concat();
        refused(&without, "a chunk is missing");
    }
}

#[test]
fn what_is_no_carry_file_is_told_so() {
    for file in [
        &b"\xFF\xD8\xFF\xE0 a photograph"[..],
        b"hello\n",
        b"age-encryptiom.org/v1\n",
    ] {
        let error = open_as(&TUTOR, file).unwrap_err();
        assert!(matches!(error, OpenError::NotPost), "{error:?}");
    }
    let error = open_as(&TUTOR, b"").unwrap_err();
    assert!(matches!(error, OpenError::Cut), "{error:?}");
    let error = open_as(&TUTOR, b"age-encryption.org/v2\n").unwrap_err();
    assert!(matches!(error, OpenError::Newer), "{error:?}");
}

#[test]
fn a_source_that_fails_is_told_as_such_wherever_it_does() {
    struct Failing<'a>(&'a [u8]);
    impl std::io::Read for Failing<'_> {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            if self.0.is_empty() {
                return Err(std::io::ErrorKind::PermissionDenied.into());
            }
            let length = into.len().min(100);
            self.0.read(&mut into[..length])
        }
    }
    let file = post(&small());
    for length in 0..=file.len() {
        let error = open(Failing(&file[..length]), &TUTOR, &member).unwrap_err();
        let kind = match error {
            OpenError::Read(error) => error.kind(),
            other => panic!("{length}: {other:?}"),
        };
        assert_eq!(kind, std::io::ErrorKind::PermissionDenied);
    }
}
