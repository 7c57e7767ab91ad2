//! Blobs that come in pieces.

use store::{MAX_BLOB_BYTES, StoreError, Write};

use crate::child::filling;
use crate::ground::{blob_files, folder, id_of, open};

#[test]
fn a_blob_comes_in_pieces_and_goes_on_after_opening_again() {
    let folder = folder();
    let photo = filling(1, 250_000);
    let id = id_of(&photo);
    let mut from = 0;
    while from < photo.len() {
        let store = open(folder.path());
        let there = store.part(id).unwrap().unwrap_or_default();
        assert_eq!(there, photo[..from]);
        let piece = &photo[from..photo.len().min(from + 64_000)];
        store.keep_part(id, from as u64, piece).unwrap();
        assert!(!store.has_blob(id).unwrap());
        assert_eq!(store.blob(id).unwrap(), None);
        assert_eq!(store.blobs().unwrap(), []);
        from += piece.len();
    }
    let store = open(folder.path());
    let whole = store.part(id).unwrap().unwrap();
    store.put_blob_as(id, &whole).unwrap();
    assert_eq!(store.blob(id).unwrap(), Some(photo));
    assert_eq!(store.part(id).unwrap(), None);
}

#[test]
fn a_piece_that_does_not_follow_is_refused_and_says_where_it_should_begin() {
    let folder = folder();
    let store = open(folder.path());
    let id = id_of(b"whole");
    let refused = store.keep_part(id, 1, b"hole");
    assert!(
        matches!(refused, Err(StoreError::OutOfPlace { length: 0 })),
        "{refused:?}"
    );
    store.keep_part(id, 0, b"wh").unwrap();
    for from in [0, 1, 3, u64::MAX] {
        let refused = store.keep_part(id, from, b"ole");
        assert!(
            matches!(refused, Err(StoreError::OutOfPlace { length: 2 })),
            "{refused:?}"
        );
    }
    store.keep_part(id, 2, b"").unwrap();
    store.keep_part(id, 2, b"ole").unwrap();
    assert_eq!(store.part(id).unwrap(), Some(b"whole".to_vec()));
}

#[test]
fn a_part_goes_when_it_is_dropped_and_when_its_blob_is_put_or_removed() {
    let folder = folder();
    let store = open(folder.path());
    let id = id_of(b"whole");
    let other = id_of(b"other");
    store.keep_part(other, 0, b"oth").unwrap();
    let ways: [(&str, &dyn Fn()); 5] = [
        ("dropped", &|| store.drop_part(id).unwrap()),
        ("put", &|| assert_eq!(store.put_blob(b"whole").unwrap(), id)),
        ("put as", &|| store.put_blob_as(id, b"whole").unwrap()),
        ("removed", &|| assert!(!store.remove_blob(id).unwrap())),
        ("removed with others", &|| {
            store.transaction(vec![Write::RemoveBlob(id)]).unwrap()
        }),
    ];
    for (way, end) in ways {
        store.keep_part(id, 0, b"who").unwrap();
        assert_eq!(store.part(id).unwrap(), Some(b"who".to_vec()), "{way}");
        end();
        assert_eq!(store.part(id).unwrap(), None, "{way}");
        store.remove_blob(id).unwrap();
    }
    store.drop_part(id).unwrap();
    assert_eq!(store.part(other).unwrap(), Some(b"oth".to_vec()));
}

#[test]
fn nothing_is_kept_on_the_way_of_a_blob_that_is_here() {
    let folder = folder();
    let store = open(folder.path());
    let id = store.put_blob(b"whole").unwrap();
    store.keep_part(id, 0, b"who").unwrap();
    store.keep_part(id, 3, b"le").unwrap();
    assert_eq!(store.part(id).unwrap(), None);
}

#[test]
fn parts_are_bounded_like_blobs() {
    let folder = folder();
    let store = open(folder.path());
    let id = id_of(b"never whole");
    let too_large = |refused| matches!(refused, Err(StoreError::TooLarge { .. }));
    assert!(too_large(store.keep_part(
        id,
        0,
        &vec![0; MAX_BLOB_BYTES + 1]
    )));
    assert_eq!(store.part(id).unwrap(), None);
    let half = MAX_BLOB_BYTES as u64 / 2;
    store.keep_part(id, 0, &vec![0; half as usize]).unwrap();
    assert!(too_large(store.keep_part(
        id,
        half,
        &vec![0; half as usize + 1]
    )));
    store.keep_part(id, half, &vec![0; half as usize]).unwrap();
    assert!(too_large(store.keep_part(id, 2 * half, b"x")));
    assert_eq!(
        store.part(id).unwrap().map(|part| part.len()),
        Some(MAX_BLOB_BYTES)
    );
    // Bytes that turn out to be something else are not taken for the blob.
    let whole = store.part(id).unwrap().unwrap();
    assert!(matches!(
        store.put_blob_as(id, &whole),
        Err(StoreError::WrongName)
    ));
    assert_eq!(blob_files(folder.path()).len(), 0);
}
