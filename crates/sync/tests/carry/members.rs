//! Files from members that no honest device makes.

use sync::carry::{OpenError, Parcel, RECIPIENTS, seal};

use crate::hostile::refused;
use crate::raw::{self, Head, Piece, head};
use crate::*;

/// What a member may sign that no honest device would.
pub fn spoilt() -> Vec<(&'static str, Vec<u8>)> {
    let piece = |length, from, bytes, groups: usize| Piece {
        id: blob(1, 100_000).0.0,
        length,
        from,
        bytes,
        outline: vec![1; 32 * groups],
    };
    type Spoil<'a> = &'a dyn Fn(&mut Head);
    let cases: [(&str, Spoil, usize); 17] = [
        ("part 0", &|head| head.part = 0, 0),
        ("part 2 of 1", &|head| head.part = 2, 0),
        (
            "65 receivers",
            &|head| head.to.resize(RECIPIENTS + 1, [0; 32]),
            0,
        ),
        ("a long scope", &|head| head.scope = vec![0; 65], 0),
        (
            "a long name of a document",
            &|head| head.have = vec![(vec![0; 65], 0)],
            0,
        ),
        (
            "many documents",
            &|head| head.have = vec![(vec![0], 0); 4097],
            0,
        ),
        ("many wants", &|head| head.wants = vec![[0; 32]; 4097], 0),
        ("many changes", &|head| head.changes = vec![0; 65_537], 0),
        (
            "a long change",
            &|head| head.changes = vec![(4 << 20) + 1],
            10,
        ),
        (
            "the longest change",
            &|head| head.changes = vec![u32::MAX],
            10,
        ),
        (
            "a long blob",
            &|head| head.blobs = vec![([0; 32], (32 << 20) + 1)],
            10,
        ),
        (
            "much in all",
            &|head| head.blobs = vec![([0; 32], 32 << 20); 3],
            10,
        ),
        (
            "most in all",
            &|head| head.changes = vec![4 << 20; 65_536],
            10,
        ),
        (
            "a blob of another name",
            &|head| head.blobs = vec![([0; 32], 10)],
            10,
        ),
        (
            "a piece of another name",
            &|head| head.pieces = vec![piece(10, 0, 10, 1)],
            10,
        ),
        (
            "a piece beyond its blob",
            &|head| head.pieces = vec![piece(100_000, u32::MAX, 10, 2)],
            10,
        ),
        (
            "a piece with a wrong outline",
            &|head| head.pieces = vec![piece(100_000, 0, 10, 3)],
            10,
        ),
    ];
    let mut files: Vec<_> = cases
        .into_iter()
        .map(|(what, spoil, content)| {
            let mut head = head();
            spoil(&mut head);
            (
                what,
                raw::encrypt(&head.with(&vec![0; content]), &[device(&TUTOR)]),
            )
        })
        .collect();
    // A head with something behind it, one that ends early, and one that is all counts.
    let whole = head().bytes();
    let counts = [&device(&PARENT).0[..], &[0xFF; 200]].concat();
    for (what, bytes) in [
        ("more behind the head", &[&whole[..], &[0]].concat()),
        ("half a head", &whole[..40].to_vec()),
        ("only counts", &counts),
    ] {
        let plain = raw::sign(bytes, &PARENT);
        files.push((what, raw::encrypt(&plain, &[device(&TUTOR)])));
    }
    files
}

#[test]
fn what_no_honest_member_signs_is_refused_and_blamed_on_its_device() {
    for (what, file) in spoilt() {
        let refused = refused(&file);
        let blamed =
            matches!(refused, OpenError::Malformed { from, .. } if from == device(&PARENT));
        assert!(blamed, "{what}: {refused:?}");
    }
}

/// A blob's outline, as an honest part with its first group tells it: it stands before
/// the content's hash.
fn outline(id: BlobId, bytes: &[u8]) -> Vec<u8> {
    let parcel = Parcel {
        scope: SCOPE.to_vec(),
        blobs: vec![(id, bytes.to_vec())],
        ..Parcel::default()
    };
    let files = seal(&parcel, &PARENT, &[device(&TUTOR)], 100_000).unwrap();
    let opened = open_as(&TUTOR, &files[0]).unwrap();
    assert_eq!(opened.pieces[0].bytes, bytes[..GROUP]);
    let inside = raw::decrypt(&files[0], &TUTOR);
    let end = inside.len() - GROUP - 64 - 32;
    inside[end - 32 * bytes.len().div_ceil(GROUP)..end].to_vec()
}

/// Opens a part with one piece.
fn open_piece(
    id: BlobId,
    length: u32,
    from: u32,
    bytes: &[u8],
    outline: &[u8],
) -> Result<Opened, OpenError> {
    let mut head = head();
    head.pieces = vec![Piece {
        id: id.0,
        length,
        from,
        bytes: bytes.len() as u32,
        outline: outline.to_vec(),
    }];
    open_as(&TUTOR, &raw::encrypt(&head.with(bytes), &[device(&TUTOR)]))
}

const GROUP: usize = 65_536;

#[test]
fn a_piece_is_taken_only_with_the_outline_of_its_blob() {
    let (id, bytes) = blob(1, 200_000);
    let outline = &outline(id, &bytes)[..];
    let second = &bytes[GROUP..2 * GROUP];
    let last = &bytes[3 * GROUP..];
    let mut other = outline.to_vec();
    other[3 * 32] ^= 1;
    let mut wrong = second.to_vec();
    wrong[70] ^= 1;
    let two = [&bytes[..GROUP], &wrong].concat();
    let try_it = |length, from, bytes: &[u8], outline: &[u8]| match open_piece(
        id, length, from, bytes, outline,
    ) {
        Ok(_) => true,
        Err(OpenError::Malformed { .. }) => false,
        Err(other) => panic!("{other:?}"),
    };
    assert!(try_it(200_000, 65_536, second, outline));
    assert!(try_it(200_000, 196_608, last, outline));
    for (what, taken) in [
        ("another place", try_it(200_000, 0, second, outline)),
        ("between places", try_it(200_000, 65_537, second, outline)),
        (
            "not at a border",
            try_it(200_000, 65_537, &second[1..], outline),
        ),
        (
            "half a group",
            try_it(200_000, 65_536, &second[..9], outline),
        ),
        ("nothing", try_it(200_000, 65_536, &[], outline)),
        ("a byte", try_it(200_000, 65_536, &wrong, outline)),
        ("a byte of two groups", try_it(200_000, 0, &two, outline)),
        ("the outline", try_it(200_000, 65_536, second, &other)),
        (
            "half the outline",
            try_it(131_072, 65_536, second, &outline[..64]),
        ),
        // All bytes are right, and place or length is not.
        ("longer", try_it(200_001, 196_608, last, outline)),
        ("shifted", try_it(200_001, 196_609, last, outline)),
        ("shorter", try_it(199_999, 196_608, last, outline)),
        (
            "cut",
            try_it(199_999, 196_608, &last[..last.len() - 1], outline),
        ),
    ] {
        assert!(!taken, "{what}");
    }
}

#[test]
fn a_blob_that_ends_with_a_whole_group_is_no_shorter_than_it_is() {
    let (id, bytes) = blob(1, 2 * GROUP);
    let outline = outline(id, &bytes);
    let last = &bytes[GROUP..];
    assert!(open_piece(id, 131_072, 65_536, last, &outline).is_ok());
    let shorter = open_piece(id, 131_071, 65_536, last, &outline);
    assert!(matches!(shorter, Err(OpenError::Malformed { .. })));
}
