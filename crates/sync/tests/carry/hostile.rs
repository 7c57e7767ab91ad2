//! Files from strangers and from receivers who mean ill.

use std::cell::RefCell;

use sync::carry::{OpenError, Parcel, seal};

use crate::raw::{self, head};
use crate::*;

pub fn refused(file: &[u8]) -> OpenError {
    open_as(&TUTOR, file).expect_err("refused")
}

/// From the parent to the tutor, as it looks to the tutor's device.
fn inside() -> Vec<u8> {
    raw::decrypt(&post(&small()), &TUTOR)
}

fn replaced(bytes: &[u8], what: &[u8], with: &[u8]) -> Vec<u8> {
    let at = bytes.windows(what.len()).position(|at| at == what).unwrap();
    let mut bytes = bytes.to_vec();
    bytes.splice(at..at + what.len(), with.iter().copied());
    bytes
}

#[test]
fn a_part_written_by_hand_is_taken() {
    let mut by_hand = head();
    by_hand.changes = vec![2, 0];
    by_hand.blobs = vec![(blob(1, 3).0.0, 3)];
    let content = [&b"ab"[..], &noise(1, 3)].concat();
    let opened = open_as(
        &TUTOR,
        &raw::encrypt(&by_hand.with(&content), &[device(&TUTOR)]),
    );
    let parcel = opened.unwrap().parcel;
    assert_eq!(parcel.changes, [b"ab".to_vec(), vec![]]);
    assert_eq!(parcel.blobs, [blob(1, 3)]);
}

#[test]
fn a_receiver_cannot_pass_a_parcel_on_as_if_it_were_for_another() {
    let file = raw::encrypt(&inside(), &[device(&TABLET)]);
    let refused = open_as(&TABLET, &file).unwrap_err();
    let from = device(&PARENT);
    assert!(
        matches!(refused, OpenError::PassedOn { from: who } if who == from),
        "{refused:?}"
    );
}

#[test]
fn nothing_that_is_signed_can_be_exchanged() {
    let inside = inside();
    let (tutor, tablet) = (device(&TUTOR).0, device(&TABLET).0);
    for (what, with) in [
        // The scope; the receiver; the sender; the acknowledgement; a wanted blob.
        (SCOPE, &b"a tree"[..]),
        (&tutor[..], &tablet[..]),
        (&device(&PARENT).0[..], &tablet[..]),
        (b"home\x0c", b"home\x0d"),
        (&[5; 32], &[6; 32]),
    ] {
        for secret in [TUTOR, TABLET] {
            let file = raw::encrypt(&replaced(&inside, what, with), &[device(&secret)]);
            let refused = open(&file[..], &secret, &|_, _| true).unwrap_err();
            assert!(matches!(refused, OpenError::Forged), "{refused:?}");
        }
    }
}

#[test]
fn no_byte_inside_can_be_changed_by_a_receiver() {
    let mut inside = inside();
    for at in 0..inside.len() {
        inside[at] ^= 1;
        let refused = refused(&raw::encrypt(&inside, &[device(&TUTOR)]));
        let expected = matches!(
            refused,
            OpenError::Forged
                | OpenError::NotPost
                | OpenError::Newer
                | OpenError::Damaged
                | OpenError::TooLarge { .. }
        );
        assert!(expected, "byte {at}: {refused:?}");
        inside[at] ^= 1;
    }
    let shorter = refused(&raw::encrypt(
        &inside[..inside.len() - 1],
        &[device(&TUTOR)],
    ));
    assert!(matches!(shorter, OpenError::Cut), "{shorter:?}");
    inside.push(0);
    let longer = refused(&raw::encrypt(&inside, &[device(&TUTOR)]));
    assert!(matches!(longer, OpenError::Damaged), "{longer:?}");
}

#[test]
fn a_stranger_is_refused_whatever_it_sends() {
    let stranger = device(&STRANGER);
    let acknowledgement = Parcel {
        scope: SCOPE.to_vec(),
        have: vec![(b"home".to_vec(), u64::MAX)],
        ..Parcel::default()
    };
    for parcel in [small(), acknowledgement, Parcel::default()] {
        let files = seal(&parcel, &STRANGER, &[device(&TUTOR)], ANY_SIZE).unwrap();
        let refused = refused(&files[0]);
        assert!(matches!(refused, OpenError::Stranger { from } if from == stranger));
    }
    // In a member's name.
    let plain = raw::sign(&head().bytes(), &STRANGER);
    let in_name = refused(&raw::encrypt(&plain, &[device(&TUTOR)]));
    assert!(matches!(in_name, OpenError::Forged), "{in_name:?}");
    // Without a signature.
    let mut plain = raw::sign(&head().bytes(), &PARENT);
    let length = plain.len();
    plain[length - 64..].fill(0);
    let unsigned = refused(&raw::encrypt(&plain, &[device(&TUTOR)]));
    assert!(matches!(unsigned, OpenError::Forged), "{unsigned:?}");
}

#[test]
fn a_member_of_another_scope_is_a_stranger_in_this_one_before_its_content_is_read() {
    let parcel = Parcel {
        scope: b"another book".to_vec(),
        blobs: vec![blob(1, 200_000)],
        ..Parcel::default()
    };
    let file = post(&parcel);
    // Most of the content is missing, and it is not missed.
    let refused = refused(&file[..100_000]);
    assert!(matches!(refused, OpenError::Stranger { from } if from == device(&PARENT)));
}

#[test]
fn who_belongs_is_asked_once_and_only_about_a_device_that_signed() {
    let asked = RefCell::new(Vec::new());
    let ask = |from: DeviceId, scope: &[u8]| {
        asked.borrow_mut().push((from, scope.to_vec()));
        true
    };
    let file = raw::encrypt(&raw::sign(&head().bytes(), &STRANGER), &[device(&TUTOR)]);
    assert!(open(&file[..], &TUTOR, &ask).is_err());
    let passed_on = raw::encrypt(&inside(), &[device(&TABLET)]);
    assert!(open(&passed_on[..], &TABLET, &ask).is_err());
    assert!(asked.borrow().is_empty());
    open(&post(&small())[..], &TUTOR, &ask).unwrap();
    assert_eq!(asked.take(), [(device(&PARENT), SCOPE.to_vec())]);
}

#[test]
fn what_is_only_encrypted_is_no_carry_file() {
    for plain in [&[7; 100][..], b"Dear tutor, here is this week's page."] {
        let refused = refused(&raw::encrypt(plain, &[device(&TUTOR)]));
        assert!(matches!(refused, OpenError::NotPost), "{refused:?}");
    }
    let mut long = [raw::MAGIC, &[0, 1], &[0xFF; 4]].concat();
    long.resize(200, 0);
    let long = refused(&raw::encrypt(&long, &[device(&TUTOR)]));
    assert!(
        matches!(long, OpenError::TooLarge { what: "head" }),
        "{long:?}"
    );
    let mut newer = inside();
    newer[raw::MAGIC.len() + 1] = 2;
    let newer = refused(&raw::encrypt(&newer, &[device(&TUTOR)]));
    assert!(matches!(newer, OpenError::Newer), "{newer:?}");
}
