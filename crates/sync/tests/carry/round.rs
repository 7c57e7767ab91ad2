//! There and back.

use sync::carry::{OpenError, Parcel, RECIPIENTS, SCOPE_BYTES, SealError, WANTS, seal};
use sync::{BlobId, DeviceId, Limits};

use crate::*;

#[test]
fn what_is_sealed_for_a_device_comes_out_as_it_was() {
    let opened = open_as(&TUTOR, &post(&small())).unwrap();
    assert_eq!(opened.from, device(&PARENT));
    assert_eq!(opened.to, [device(&TUTOR)]);
    assert_eq!(opened.part, (1, 1));
    assert_eq!(opened.parcel, small());
    assert!(opened.pieces.is_empty());
}

/// A file of this version as it was written once in Python, from nothing of this crate: with the
/// packages `cryptography` and `blake3`, and the map from one curve to the other reckoned
/// as RFC 7748, section 4.1, has it. Later versions must read it as well.
#[test]
fn a_file_of_the_first_version_made_elsewhere_is_read() {
    let file = include_bytes!("second_of_three.pothook-post");
    let piece = b"a piece of a blob that is one group".to_vec();
    for secret in [TUTOR, TABLET] {
        let opened = open_as(&secret, file).unwrap();
        assert_eq!(opened.from, device(&PARENT));
        assert_eq!(opened.to.len(), 2);
        assert_eq!(opened.part, (2, 3));
        assert_eq!(opened.id, std::array::from_fn(|at| at as u8));
        let whole = b"a whole blob".to_vec();
        let expected = Parcel {
            changes: vec![b"one change".to_vec(), Vec::new(), b"another".to_vec()],
            blobs: vec![(BlobId(*blake3::hash(&whole).as_bytes()), whole)],
            ..small()
        };
        assert_eq!(opened.parcel, expected);
        let [read] = &opened.pieces[..] else {
            panic!("one piece");
        };
        assert_eq!((read.length, read.from, &read.bytes), (35, 0, &piece));
    }
}

#[test]
fn one_file_serves_all_devices_that_it_is_for_and_no_other() {
    let to = [device(&TABLET), device(&TUTOR), device(&TABLET)];
    let files = seal(&small(), &PARENT, &to, ANY_SIZE).unwrap();
    let [file] = &files[..] else {
        panic!("more than one file");
    };
    let mut ascending = vec![device(&TUTOR), device(&TABLET)];
    ascending.sort_unstable();
    for secret in [TUTOR, TABLET] {
        let opened = open_as(&secret, file).unwrap();
        assert_eq!(opened.parcel, small());
        assert_eq!(opened.to, ascending);
    }
    // Not even the device that made it.
    for secret in [PARENT, STRANGER] {
        let refused = open_as(&secret, file).unwrap_err();
        assert!(matches!(refused, OpenError::Foreign), "{refused:?}");
    }
}

#[test]
fn as_many_devices_as_allowed_can_read_a_file() {
    let secrets: Vec<_> = (10..10 + RECIPIENTS as u8).map(|n| [n; 32]).collect();
    let mut to: Vec<_> = secrets.iter().map(device).collect();
    let files = seal(&small(), &PARENT, &to, ANY_SIZE).unwrap();
    for secret in [secrets[0], secrets[RECIPIENTS - 1]] {
        assert_eq!(open_as(&secret, &files[0]).unwrap().parcel, small());
    }
    to.push(device(&TUTOR));
    let refused = seal(&small(), &PARENT, &to, ANY_SIZE);
    let what = "receiving devices";
    let (count, most) = (RECIPIENTS + 1, RECIPIENTS);
    assert_eq!(refused, Err(SealError::TooMany { what, count, most }));
}

#[test]
fn the_same_parcel_has_the_same_name_but_never_the_same_bytes() {
    let (one, other) = (post(&small()), post(&small()));
    assert_ne!(one, other);
    let id = open_as(&TUTOR, &one).unwrap().id;
    assert_eq!(open_as(&TUTOR, &other).unwrap().id, id);
    for change in [
        |parcel: &mut Parcel| parcel.made += 1,
        |parcel: &mut Parcel| parcel.have[0].1 += 1,
        |parcel: &mut Parcel| parcel.wants_more = false,
        |parcel: &mut Parcel| parcel.changes[0][0] ^= 1,
        |parcel: &mut Parcel| parcel.blobs.truncate(1),
    ] {
        let mut parcel = small();
        change(&mut parcel);
        assert_ne!(open_as(&TUTOR, &post(&parcel)).unwrap().id, id);
    }
}

#[test]
fn the_largest_of_everything_goes_through() {
    let parcel = Parcel {
        scope: vec![1; SCOPE_BYTES],
        made: u64::MAX,
        have: vec![(vec![2; Limits::DOCUMENT_ID_BYTES], u64::MAX); Limits::DOCUMENTS],
        wants: vec![BlobId([3; 32]); WANTS],
        changes: vec![noise(4, Limits::CHANGE_BYTES)],
        blobs: vec![blob(5, Limits::BLOB_BYTES as usize)],
        ..Parcel::default()
    };
    let files = seal(&parcel, &PARENT, &[device(&TUTOR)], ANY_SIZE).unwrap();
    assert_eq!(files.len(), 1);
    let opened = open(&files[0][..], &TUTOR, &|_, _| true).unwrap();
    assert!(opened.parcel == parcel);
}

/// A parcel, and why no file is made of it.
type Refused = (fn(&mut Parcel), SealError);

#[test]
fn what_no_file_may_hold_is_refused_with_its_reason() {
    let too_large = |what, bytes, most| SealError::TooLarge { what, bytes, most };
    let too_many = |what, count, most| SealError::TooMany { what, count, most };
    let cases: [Refused; 7] = [
        (
            |parcel| parcel.scope = vec![0; SCOPE_BYTES + 1],
            too_large("scope", SCOPE_BYTES + 1, SCOPE_BYTES),
        ),
        (
            |parcel| parcel.have = vec![(vec![0; 65], 1)],
            too_large("name of a document", 65, 64),
        ),
        (
            |parcel| parcel.have = vec![(vec![0], 1); 4097],
            too_many("documents", 4097, 4096),
        ),
        (
            |parcel| parcel.wants = vec![BlobId([0; 32]); WANTS + 1],
            too_many("wanted blobs", WANTS + 1, WANTS),
        ),
        (
            |parcel| parcel.changes = vec![vec![0; Limits::CHANGE_BYTES + 1]],
            too_large("change", Limits::CHANGE_BYTES + 1, Limits::CHANGE_BYTES),
        ),
        (
            |parcel| parcel.blobs = vec![blob(1, Limits::BLOB_BYTES as usize + 1)],
            too_large("blob", (32 << 20) + 1, 32 << 20),
        ),
        (
            |parcel| parcel.blobs[0].1.push(0),
            SealError::WrongBlob(small().blobs[0].0),
        ),
    ];
    for (spoil, why) in cases {
        let mut parcel = small();
        spoil(&mut parcel);
        let refused = seal(&parcel, &PARENT, &[device(&TUTOR)], ANY_SIZE);
        assert_eq!(refused, Err(why));
    }
    let nobody = seal(&small(), &PARENT, &[], ANY_SIZE);
    assert_eq!(nobody, Err(SealError::NoRecipient));
    // The neutral point of the curve: whatever is encrypted to it, all can read.
    let mut neutral = DeviceId([0; 32]);
    neutral.0[0] = 1;
    let weak = seal(&small(), &PARENT, &[neutral], ANY_SIZE);
    assert_eq!(weak, Err(SealError::NoKey(neutral)));
}

#[test]
fn a_limit_that_is_too_small_is_told_with_one_that_does() {
    let to = [device(&TUTOR), device(&TABLET)];
    // For the acknowledgement; for the longest change; for a group of a blob.
    let mut parcel = Parcel {
        have: vec![(vec![0; 30], 7); 40],
        ..Parcel::default()
    };
    for step in 0..3 {
        match step {
            0 => {}
            1 => parcel.changes = vec![noise(1, 10), noise(2, 5000), noise(3, 6000)],
            _ => parcel.blobs = vec![blob(4, 200_000)],
        }
        let mut limit = 10;
        for _ in 0..10 {
            match seal(&parcel, &PARENT, &to, limit) {
                Err(SealError::PartTooSmall {
                    limit: asked,
                    needed,
                }) => {
                    assert_eq!(asked, limit);
                    assert!(needed > limit);
                    limit = needed;
                }
                done => {
                    let files = done.unwrap();
                    assert!(files.iter().all(|file| file.len() as u64 <= limit));
                    break;
                }
            }
        }
        assert!(seal(&parcel, &PARENT, &to, limit - 1).is_err());
        assert!(seal(&parcel, &PARENT, &to, limit).is_ok());
    }
}
