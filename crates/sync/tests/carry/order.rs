//! Parts in any order, repeated, and lost.

use proptest::prelude::*;
use sync::carry::seal;

use crate::shelf::Shelf;
use crate::*;

/// Seals all that a shelf has for one that has said nothing.
fn files(shelf: &Shelf, limit: u64) -> Vec<Vec<u8>> {
    let parcel = shelf.parcel_for(&[], &[]);
    seal(&parcel, &PARENT, &[device(&TUTOR)], limit).unwrap()
}

fn deliver(to: &mut Shelf, file: &[u8]) {
    to.take(open_as(&TUTOR, file).unwrap());
}

/// What may be so after some parts of a whole have come: beginnings of its documents, and
/// nothing but its blobs.
fn is_some_of(some: &Shelf, whole: &Shelf) -> bool {
    let begins = |(id, changes): (&u8, &Vec<Vec<u8>>)| whole.documents[id].starts_with(changes);
    let same = |(id, bytes): (&BlobId, &Vec<u8>)| whole.blobs[id] == *bytes;
    let part = |(id, bytes): (&BlobId, &Vec<u8>)| whole.blobs[id].starts_with(bytes);
    some.documents.iter().all(begins) && some.blobs.iter().all(same) && some.parts.iter().all(part)
}

/// Parts delivered in this order, which may leave out and repeat some: nothing wrong comes
/// of it, and what the receiver then says it has is enough to bring it level.
fn any_delivery_is_mended(whole: &Shelf, limit: u64, order: &[prop::sample::Index]) {
    let files = files(whole, limit);
    let mut shelf = Shelf::default();
    for index in order {
        deliver(&mut shelf, &files[index.index(files.len())]);
        assert!(is_some_of(&shelf, whole));
    }
    let (have, held) = shelf.acknowledgement();
    let rest = whole.parcel_for(&have, &held);
    let files = seal(&rest, &PARENT, &[device(&TUTOR)], limit).unwrap();
    for file in files {
        deliver(&mut shelf, &file);
    }
    // Not assert_eq: it would print whole blobs.
    assert!(shelf == *whole, "not level after the rest has come");
}

fn shelf_of(changes: Vec<(u8, Vec<u8>)>, blobs: Vec<Vec<u8>>) -> Shelf {
    let mut shelf = Shelf::default();
    for (document, text) in changes {
        shelf.write(document, &text);
    }
    for bytes in blobs {
        let id = BlobId(*blake3::hash(&bytes).as_bytes());
        shelf.blobs.insert(id, bytes);
    }
    shelf
}

fn indices(most: usize) -> impl Strategy<Value = Vec<prop::sample::Index>> {
    prop::collection::vec(any::<prop::sample::Index>(), 0..most)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn small_parts_come_in_any_order_repeated_or_not_at_all(
        changes in prop::collection::vec(
            (0..4u8, prop::collection::vec(any::<u8>(), 0..200)), 0..40),
        blobs in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..700), 0..6),
        limit in 1_700..4_000u64,
        order in indices(20),
    ) {
        any_delivery_is_mended(&shelf_of(changes, blobs), limit, &order);
    }

    #[test]
    fn pieces_come_in_any_order_repeated_or_not_at_all(
        lengths in prop::collection::vec(60_000..400_000usize, 1..4),
        limit in 80_000..300_000u64,
        order in indices(12),
    ) {
        let blobs = lengths.into_iter().zip(0..).map(|(length, seed)| noise(seed, length));
        let shelf = shelf_of(vec![(0, vec![1; 100])], blobs.collect());
        any_delivery_is_mended(&shelf, limit, &order);
    }
}

#[test]
fn every_part_keeps_its_limit_and_carries_the_whole_acknowledgement() {
    let blobs = vec![blob(1, 700_000), blob(2, 80_000), blob(3, 90_000)];
    let parcel = Parcel { blobs, ..small() };
    let limit = 200_000;
    let files = seal(&parcel, &PARENT, &[device(&TUTOR)], limit).unwrap();
    let opened: Vec<_> = files
        .iter()
        .map(|file| open_as(&TUTOR, file).unwrap())
        .collect();
    assert!(files.iter().all(|file| file.len() as u64 <= limit));
    let first = opened[0].id;
    for (opened, part) in opened.iter().zip(1..) {
        assert_eq!(opened.part, (part, files.len() as u16));
        assert_eq!(opened.id, first);
        assert_eq!(opened.parcel.have, parcel.have);
        assert_eq!(opened.parcel.wants, parcel.wants);
        assert_eq!(opened.parcel.made, parcel.made);
    }
    // Three groups to a part; the blobs that fit into a part are not split, and the first
    // of them goes where the last piece has left room.
    let shape = opened
        .iter()
        .map(|o| (o.parcel.blobs.len(), o.pieces.len()));
    assert_eq!(
        shape.collect::<Vec<_>>(),
        [(0, 1), (0, 1), (0, 1), (1, 1), (1, 0)]
    );
}

#[test]
fn in_any_order_all_parts_are_enough_after_as_many_rounds_as_there_are_parts() {
    let changes = (0..60).map(|n| (n % 3, vec![n; 100]));
    let whole = shelf_of(changes.collect(), vec![noise(1, 500), noise(2, 900)]);
    let files = files(&whole, 2_000);
    assert!(files.len() > 5);
    // The worst order: the last part first.
    let mut shelf = Shelf::default();
    for _ in 0..files.len() {
        for file in files.iter().rev() {
            deliver(&mut shelf, file);
        }
    }
    assert_eq!(shelf, whole);
}

#[test]
fn an_old_parcel_that_comes_again_changes_nothing() {
    let mut whole = shelf_of(vec![(0, vec![1]), (1, vec![2])], vec![noise(1, 20)]);
    let old = files(&whole, ANY_SIZE);
    whole.write(0, b"later");
    let mut shelf = Shelf::default();
    for file in [&files(&whole, ANY_SIZE)[0], &old[0], &old[0]] {
        deliver(&mut shelf, file);
        assert_eq!(shelf, whole);
    }
}

#[test]
fn a_piece_adds_what_follows_and_nothing_else() {
    let piece = sync::carry::Piece {
        id: BlobId([0; 32]),
        length: 90,
        from: 10,
        bytes: vec![1, 2, 3],
    };
    let added: Vec<_> = [0, 9, 10, 12, 13, 14, u64::MAX]
        .map(|held| piece.after(held))
        .into();
    let all = Some(&[1, 2, 3][..]);
    assert_eq!(added, [None, None, all, Some(&[3][..]), None, None, None]);
}
