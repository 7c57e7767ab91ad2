//! Changes, blobs and settings, and that a transaction is whole.

use store::{MAX_BLOB_BYTES, Store, StoreError, Write};
use units::BlobId;

fn store() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
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
    let (_folder, store) = store();
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
    let id = BlobId(*blake3::hash(&photo).as_bytes());
    assert!(!store.has_blob(id).unwrap());
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
    let id = BlobId(*blake3::hash(b"asked for").as_bytes());
    assert!(matches!(
        store.put_blob_as(id, b"something else"),
        Err(StoreError::WrongName)
    ));
    assert!(!store.has_blob(id).unwrap());
    store.put_blob_as(id, b"asked for").unwrap();
    assert!(store.has_blob(id).unwrap());
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
    let store = Store::open(folder.path()).unwrap();
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
