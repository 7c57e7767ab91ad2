//! Bytes that changed on the disk are found out, not handed out.

use std::fs;
use std::path::Path;
use std::thread::sleep;
use std::time::Duration;

use store::{OpenError, Store, StoreError};

fn filled(folder: &Path) -> units::BlobId {
    let store = Store::open(folder).unwrap();
    store.append(b"doc", 1, b"one").unwrap();
    store.append(b"doc", 2, b"two").unwrap();
    store.set_setting("name", b"value").unwrap();
    store.put_blob(b"a photograph").unwrap()
}

fn alter(folder: &Path, sql: &str) {
    let database = rusqlite::Connection::open(folder.join("pothook.sqlite")).unwrap();
    assert_eq!(database.execute(sql, []).unwrap(), 1);
}

fn damaged<T>(result: Result<T, StoreError>) -> bool {
    matches!(result, Err(StoreError::Damaged(_)))
}

#[test]
fn an_altered_blob_is_found_out_and_mended_by_putting_it_again() {
    let folder = tempfile::tempdir().unwrap();
    let id = filled(folder.path());
    alter(folder.path(), "UPDATE blobs SET bytes = x'00'");
    let store = Store::open(folder.path()).unwrap();
    assert!(damaged(store.blob(id)));
    assert!(damaged(store.check()));
    store.put_blob(b"a photograph").unwrap();
    assert_eq!(store.blob(id).unwrap(), Some(b"a photograph".to_vec()));
    store.check().unwrap();
}

#[test]
fn an_altered_change_is_found_out() {
    let folder = tempfile::tempdir().unwrap();
    filled(folder.path());
    alter(
        folder.path(),
        "UPDATE changes SET bytes = x'00' WHERE seq = 2",
    );
    let store = Store::open(folder.path()).unwrap();
    assert!(damaged(store.changes(b"doc", 1..)));
    assert!(damaged(store.check()));
}

#[test]
fn a_change_moved_to_another_place_is_found_out() {
    let folder = tempfile::tempdir().unwrap();
    filled(folder.path());
    alter(folder.path(), "UPDATE changes SET seq = 3 WHERE seq = 2");
    assert!(damaged(
        Store::open(folder.path()).unwrap().changes(b"doc", 1..)
    ));
}

#[test]
fn an_altered_setting_is_found_out() {
    let folder = tempfile::tempdir().unwrap();
    filled(folder.path());
    alter(folder.path(), "UPDATE settings SET bytes = x'00'");
    assert!(damaged(Store::open(folder.path()).unwrap().setting("name")));
}

/// Opens a folder that is certainly free. A process that another test starts holds every lock of this one
/// for the moment between its fork and its own program; so a lock is asked for again.
fn opened(folder: &Path) -> Result<Store, OpenError> {
    for _ in 0..100 {
        match Store::open(folder) {
            Err(OpenError::InUse) => sleep(Duration::from_millis(20)),
            answer => return answer,
        }
    }
    Err(OpenError::InUse)
}

#[test]
fn overwritten_pages_never_panic_and_never_give_other_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let photo = crate::child::photo(5);
    let id = {
        let store = Store::open(folder.path()).unwrap();
        store.put_blob(&photo).unwrap()
    };
    let path = folder.path().join("pothook.sqlite");
    let whole = fs::read(&path).unwrap();
    let mut seed = 3;
    let mut found_out = 0;
    for _ in 0..60 {
        let mut bytes = whole.clone();
        let at = crate::child::next(&mut seed) as usize % (bytes.len() - 512);
        bytes[at..at + 512].fill(0x5A);
        fs::write(&path, &bytes).unwrap();
        match opened(folder.path()) {
            Err(OpenError::InUse) => panic!("damage is not a lock"),
            Err(_) => found_out += 1,
            Ok(store) => match store.blob(id) {
                Ok(Some(read)) => assert_eq!(read, photo),
                Ok(None) | Err(_) => found_out += 1,
            },
        }
    }
    assert!(found_out > 30, "{found_out} of 60 found out");
}
