//! Files that are too much: endless, for too many, or for too much work.

use std::io::Read;

use sync::carry::{OpenError, RECIPIENTS};

use crate::hostile::refused;
use crate::raw::{self, head};
use crate::*;

/// Gives what it is given, then what it repeats for ever, and counts.
struct Endless<'a> {
    first: &'a [u8],
    then: &'a [u8],
    given: &'a mut usize,
}

impl Read for Endless<'_> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        if self.first.is_empty() {
            self.first = self.then;
        }
        let read = self.first.read(into)?;
        *self.given += read;
        Ok(read)
    }
}

/// Files that never end, and how much of each is read at most.
pub fn endless(try_it: impl Fn(&str, &mut dyn Read) -> OpenError) {
    let intro = b"age-encryption.org/v1\n";
    let true_file = post(&small());
    for (what, first, then, most) in [
        ("nothing known", &b""[..], &b"x"[..], 16 << 10),
        ("a line", intro, b"x", 16 << 10),
        ("lines", intro, b"\n", 16 << 10),
        ("receivers", intro, b"-> x\n\n", 16 << 10),
        ("a receiver", intro, b"-> x", 16 << 10),
        ("after a true file", &true_file, b"x", 96 << 10),
    ] {
        let mut given = 0;
        let mut file = Endless {
            first,
            then,
            given: &mut given,
        };
        let _ = try_it(what, &mut file);
        assert!(given <= most, "{what}: {given} bytes read");
    }
}

#[test]
fn a_file_that_never_ends_is_left_early() {
    endless(|what, file| {
        let refused = open(file, &TUTOR, &member).unwrap_err();
        let expected = match what {
            "nothing known" => matches!(refused, OpenError::NotPost),
            "after a true file" => matches!(refused, OpenError::Damaged),
            _ => matches!(refused, OpenError::TooLarge { .. }),
        };
        assert!(expected, "{what}: {refused:?}");
        refused
    });
}

#[test]
fn a_file_for_a_passphrase_is_refused_before_any_work_is_done_for_it() {
    let mut key = age::scrypt::Recipient::new("a word".to_owned().into());
    key.set_work_factor(1);
    let encryptor = age::Encryptor::with_recipients([&key as _].into_iter()).unwrap();
    let file = encryptor.wrap_output(Vec::new()).unwrap().finish().unwrap();
    assert!(matches!(refused(&file), OpenError::NotPost));
    // So much work that the test would not end.
    let costly = b"age-encryption.org/v1\n-> scrypt bBjlhJVYZeE4aqUdmtRHfw 63\n";
    assert!(matches!(refused(costly), OpenError::NotPost));
}

#[test]
fn a_file_for_more_devices_than_a_parcel_may_have_is_refused() {
    let plain = head().with(&[]);
    let with = |count| raw::encrypt(&plain, &vec![device(&TUTOR); count]);
    assert!(open_as(&TUTOR, &with(RECIPIENTS)).is_ok());
    let refused = refused(&with(RECIPIENTS + 1));
    assert!(
        matches!(refused, OpenError::TooLarge { what: "recipients" }),
        "{refused:?}"
    );
}

#[test]
fn a_signed_file_beyond_the_largest_is_refused() {
    // Two blobs fill the content to the limit, so that the file is beyond it.
    let (id, bytes) = blob(1, 32 << 20);
    let mut head = head();
    head.blobs = vec![(id.0, 32 << 20); 2];
    let file = raw::encrypt(&head.with(&bytes.repeat(2)), &[device(&TUTOR)]);
    let refused = refused(&file);
    assert!(
        matches!(refused, OpenError::TooLarge { what: "file" }),
        "{refused:?}"
    );
}
