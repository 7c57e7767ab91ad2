//! Changes, blobs and settings, and that a transaction is whole.

use std::fs;

use store::{MAX_BLOB_BYTES, MAX_SETTING_BYTES, Store, StoreError, Write};
use units::BlobId;

use crate::ground::{blob_files, damaged, id_of, open};

fn store() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = open(folder.path());
    (folder, store)
}

#[test]
fn the_store_can_be_shared_between_threads() {
    fn shared<T: Send + Sync>() {}
    shared::<Store>();
    let (_folder, store) = store();
    std::thread::scope(|scope| {
        for doc in 0..4_u8 {
            let store = &store;
            scope.spawn(move || {
                for seq in 1..=25 {
                    assert!(store.append(&[doc], seq, &[doc; 10]).unwrap());
                }
            });
        }
    });
    let docs: Vec<_> = (0..4_u8).map(|doc| (vec![doc], 25)).collect();
    assert_eq!(store.docs().unwrap(), docs);
}

#[test]
fn a_change_is_appended_once_and_never_altered() {
    let (_folder, store) = store();
    assert!(store.append(b"doc", 1, b"one").unwrap());
    assert!(!store.append(b"doc", 1, b"one").unwrap());
    let refused = store.append(b"doc", 1, b"another");
    assert!(matches!(refused, Err(StoreError::Conflict { seq: 1 })));
    assert_eq!(store.changes(b"doc", 0..).unwrap(), [(1, b"one".to_vec())]);
}

#[test]
fn changes_come_back_in_order_from_where_asked() {
    let (_folder, store) = store();
    let new = store
        .append_all(&[
            (b"a", 2, b"two".as_slice()),
            (b"a", 1, b"one"),
            (b"b", 1, b"other"),
            (b"a", 10, b"ten"),
            (b"a", 2, b"two"),
        ])
        .unwrap();
    assert_eq!(new, 4);
    let seqs = |from| -> Vec<u64> {
        let changes = store.changes(b"a", from..).unwrap();
        changes.into_iter().map(|(seq, _)| seq).collect()
    };
    assert_eq!(seqs(0), [1, 2, 10]);
    assert_eq!(seqs(2), [2, 10]);
    assert_eq!(seqs(u64::MAX), [0; 0]);
    assert_eq!(
        store.docs().unwrap(),
        [(b"a".to_vec(), 10), (b"b".to_vec(), 1)]
    );
}

#[test]
fn one_refused_write_takes_the_whole_transaction_back() {
    let (folder, store) = store();
    store.append(b"doc", 1, b"one").unwrap();
    let photo = b"a photograph".to_vec();
    let refused = store.transaction(vec![
        Write::Blob(photo.clone()),
        Write::Setting {
            name: "name".into(),
            bytes: b"value".to_vec(),
        },
        Write::Change {
            doc: b"doc".to_vec(),
            seq: 2,
            bytes: b"two".to_vec(),
        },
        Write::Change {
            doc: b"doc".to_vec(),
            seq: 1,
            bytes: b"not one".to_vec(),
        },
    ]);
    assert!(matches!(refused, Err(StoreError::Conflict { seq: 1 })));
    let id = id_of(&photo);
    assert!(!store.has_blob(id).unwrap());
    assert_eq!(
        blob_files(folder.path()),
        [""; 0].map(std::path::PathBuf::from)
    );
    assert_eq!(store.setting("name").unwrap(), None);
    assert_eq!(store.changes(b"doc", 0..).unwrap().len(), 1);
}

#[test]
fn a_blob_is_named_by_its_hash() {
    let (_folder, store) = store();
    // The published BLAKE3 test vectors, input length 0.
    let empty = store.put_blob(b"").unwrap();
    assert_eq!(
        empty.to_string(),
        "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262"
    );
    let id = store.put_blob(b"a photograph").unwrap();
    assert_eq!(store.put_blob(b"a photograph").unwrap(), id);
    assert_eq!(
        store.blob(id).unwrap().as_deref(),
        Some(b"a photograph".as_slice())
    );
    assert_eq!(store.blob(BlobId([7; 32])).unwrap(), None);
    assert!(store.has_blob(id).unwrap());
    assert!(store.remove_blob(id).unwrap());
    assert!(!store.remove_blob(id).unwrap());
    assert!(!store.has_blob(id).unwrap());
}

#[test]
fn a_blob_under_a_false_name_is_refused() {
    let (_folder, store) = store();
    let id = id_of(b"asked for");
    assert!(matches!(
        store.put_blob_as(id, b"something else"),
        Err(StoreError::WrongName)
    ));
    assert!(!store.has_blob(id).unwrap());
    store.put_blob_as(id, b"asked for").unwrap();
    assert!(store.has_blob(id).unwrap());
}

#[test]
fn changes_are_handed_out_up_to_a_size_and_at_least_one() {
    let (_folder, store) = store();
    for seq in 1..=6 {
        store.append(b"a", seq, &[7; 100]).unwrap();
    }
    let seqs = |from, most| -> Vec<u64> {
        let changes = store.changes_within(b"a", from, most).unwrap();
        changes.into_iter().map(|(seq, _)| seq).collect()
    };
    assert_eq!(seqs(1, 250), [1, 2]);
    assert_eq!(seqs(3, 300), [3, 4, 5]);
    assert_eq!(seqs(5, 1), [5], "one is handed out whatever its size");
    assert_eq!(seqs(1, usize::MAX), [1, 2, 3, 4, 5, 6]);
    assert_eq!(seqs(7, 1_000), [0_u64; 0]);
    assert_eq!(seqs(u64::MAX, 1_000), [0_u64; 0]);
}

#[test]
fn settings_are_listed_by_how_their_names_begin() {
    let (_folder, store) = store();
    for name in ["row/b", "row/a", "row", "rows/a", "ro", "row0", "z"] {
        store.set_setting(name, b"").unwrap();
    }
    assert_eq!(store.settings_under("row/").unwrap(), ["row/a", "row/b"]);
    assert_eq!(store.settings_under("zz").unwrap(), [""; 0]);
    assert_eq!(store.settings_under("").unwrap().len(), 7);
}

#[test]
fn settings_are_set_over_and_removed() {
    let (_folder, store) = store();
    assert_eq!(store.setting("name").unwrap(), None);
    store.set_setting("name", b"one").unwrap();
    store.set_setting("name", b"two").unwrap();
    assert_eq!(store.setting("name").unwrap(), Some(b"two".to_vec()));
    store.remove_setting("name").unwrap();
    store.remove_setting("name").unwrap();
    assert_eq!(store.setting("name").unwrap(), None);
}

#[test]
fn everything_is_there_after_opening_again() {
    let (folder, store) = store();
    let id = store.put_blob(&[9; 100_000]).unwrap();
    store.append(b"doc", 1, b"one").unwrap();
    store.set_setting("name", b"value").unwrap();
    drop(store);
    let store = open(folder.path());
    assert_eq!(store.blob(id).unwrap(), Some(vec![9; 100_000]));
    assert_eq!(store.changes(b"doc", 1..).unwrap(), [(1, b"one".to_vec())]);
    assert_eq!(store.setting("name").unwrap(), Some(b"value".to_vec()));
    store.check().unwrap();
}

#[test]
fn too_large_a_thing_is_refused() {
    let (_folder, store) = store();
    let too_large = |refused| matches!(refused, Err(StoreError::TooLarge { .. }));
    assert!(too_large(
        store.put_blob(&vec![0; MAX_BLOB_BYTES + 1]).map(drop)
    ));
    assert!(too_large(
        store
            .append(b"doc", 1, &vec![0; store::MAX_CHANGE_BYTES + 1])
            .map(drop)
    ));
    assert!(too_large(store.append(&[0; 257], 1, b"").map(drop)));
    assert!(too_large(store.append(b"doc", u64::MAX, b"").map(drop)));
    assert!(too_large(
        store.set_setting("name", &vec![0; store::MAX_SETTING_BYTES + 1])
    ));
    let largest = vec![1; MAX_BLOB_BYTES];
    let id = store.put_blob(&largest).unwrap();
    assert_eq!(
        store.blob(id).unwrap().map(|blob| blob.len()),
        Some(MAX_BLOB_BYTES)
    );
}

#[test]
fn a_blob_tells_its_length_and_its_name_without_being_read() {
    let (folder, store) = store();
    assert_eq!(store.blobs().unwrap(), []);
    let mut ids: Vec<BlobId> = [0, 1, 65_536, 100_000]
        .map(|length| store.put_blob(&vec![3; length]).unwrap())
        .to_vec();
    assert_eq!(store.blob_length(ids[2]).unwrap(), Some(65_536));
    assert_eq!(store.blob_length(ids[0]).unwrap(), Some(0));
    assert_eq!(store.blob_length(BlobId([7; 32])).unwrap(), None);
    ids.sort();
    assert_eq!(store.blobs().unwrap(), ids);
    for file in blob_files(folder.path()) {
        std::fs::remove_file(file).unwrap();
    }
    assert!(ids.iter().all(|id| store.has_blob(*id).unwrap()));
    assert_eq!(store.blobs().unwrap(), ids);
}

#[test]
fn a_removed_document_is_gone_whole_and_can_be_begun_anew() {
    let (_folder, store) = store();
    for seq in 1..=3 {
        store.append(b"doc", seq, b"old").unwrap();
        store.append(b"other", seq, b"old").unwrap();
    }
    store
        .transaction(vec![
            Write::RemoveDoc(b"doc".to_vec()),
            Write::RemoveDoc(b"never there".to_vec()),
        ])
        .unwrap();
    assert_eq!(store.docs().unwrap(), [(b"other".to_vec(), 3)]);
    assert_eq!(store.changes(b"doc", 0..).unwrap(), []);
    assert!(store.append(b"doc", 1, b"new").unwrap());
    store.check().unwrap();
}

/// Each order leaves what the last of the two says, and one file for each blob that is here.
#[test]
fn a_blob_kept_and_removed_in_one_transaction_is_as_the_last_of_them_says() {
    let (folder, store) = store();
    let photo = b"a photograph".to_vec();
    let id = id_of(&photo);
    let keep = || Write::Blob(photo.clone());
    let remove = || Write::RemoveBlob(id);
    for before in [false, true] {
        for (writes, there) in [
            (vec![keep(), remove()], false),
            (vec![remove(), keep()], true),
            (vec![keep(), remove(), keep()], true),
            (vec![keep(), keep(), keep()], true),
            (vec![remove(), keep(), remove(), remove()], false),
        ] {
            store.remove_blob(id).unwrap();
            if before {
                store.put_blob(&photo).unwrap();
            }
            store.transaction(writes).unwrap();
            assert_eq!(store.has_blob(id).unwrap(), there);
            assert_eq!(store.blob(id).unwrap().is_some(), there);
            assert_eq!(blob_files(folder.path()).len(), usize::from(there));
        }
    }
}

#[test]
fn a_blob_made_ready_is_nothing_until_it_is_kept() {
    let (folder, store) = store();
    let photo = vec![5; 70_000];
    let id = id_of(&photo);
    let ready = || store.ready(id, photo.clone()).unwrap();
    let files = || blob_files(folder.path()).len();

    let dropped = ready();
    assert_eq!((files(), store.has_blob(id).unwrap()), (1, false));
    drop(dropped);
    assert_eq!(files(), 0);

    // Kept by another meanwhile, or removed again: what is done last is what is.
    let late = ready();
    store.put_blob(&photo).unwrap();
    store.keep_ready(late, Vec::new()).unwrap();
    assert_eq!(store.blob(id).unwrap(), Some(photo.clone()));
    assert_eq!(files(), 1);
    let late = ready();
    store.remove_blob(id).unwrap();
    store.keep_ready(late, Vec::new()).unwrap();
    assert_eq!(store.blob(id).unwrap(), Some(photo.clone()));
    assert_eq!(files(), 1);

    // One of the other writes is refused: so is all.
    let other = vec![6; 70_000];
    let ready = store.ready(id_of(&other), other.clone()).unwrap();
    let too_large = Write::Setting {
        name: "large".into(),
        bytes: vec![0; MAX_SETTING_BYTES + 1],
    };
    store.keep_ready(ready, vec![too_large]).unwrap_err();
    assert!(!store.has_blob(id_of(&other)).unwrap());
    assert_eq!(files(), 1);
    store.check().unwrap();
}

#[test]
fn a_blob_made_ready_takes_the_place_of_a_damaged_one() {
    let (folder, store) = store();
    let photo = vec![5; 70_000];
    let id = store.put_blob(&photo).unwrap();
    fs::write(&blob_files(folder.path())[0], b"damaged").unwrap();
    assert!(store.blob(id).is_err());
    let ready = store.ready(id, photo.clone()).unwrap();
    store.keep_ready(ready, Vec::new()).unwrap();
    assert_eq!(store.blob(id).unwrap(), Some(photo));
    assert_eq!(blob_files(folder.path()).len(), 1);
}

#[test]
fn a_blob_made_ready_under_another_s_name_is_never_handed_out() {
    let (_folder, store) = store();
    let id = id_of(b"asked for");
    let ready = store.ready(id, b"something else".to_vec()).unwrap();
    store.keep_ready(ready, Vec::new()).unwrap();
    assert!(damaged(store.blob(id)));
    assert!(damaged(store.check()));
    store.put_blob(b"asked for").unwrap();
    assert_eq!(store.blob(id).unwrap(), Some(b"asked for".to_vec()));
}

#[test]
fn threads_that_put_and_remove_the_same_blob_leave_no_file_behind() {
    let (folder, store) = store();
    let photos: Vec<Vec<u8>> = (0..4).map(|n| vec![n; 70_000]).collect();
    std::thread::scope(|scope| {
        for turn in 0..4 {
            let (store, photos) = (&store, &photos);
            scope.spawn(move || {
                for step in 0..12 {
                    let photo = &photos[(turn + step) % 4];
                    let id = store.put_blob(photo).unwrap();
                    // Here, or removed again by another; never anything else.
                    let read = store.blob(id).unwrap();
                    assert!(read.is_none_or(|bytes| bytes == *photo));
                    if step % 3 == turn % 3 {
                        store.remove_blob(id).unwrap();
                    }
                }
            });
        }
    });
    store.check().unwrap();
    let there = store.blobs().unwrap().len();
    assert_eq!(blob_files(folder.path()).len(), there);
}
