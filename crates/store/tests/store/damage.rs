//! Bytes that changed on the disk are found out, not handed out.

use std::fs;
use std::path::Path;

use store::OpenError;

use crate::ground::{alter, blob_files, damaged, open, opened};

fn filled(folder: &Path) -> units::BlobId {
    let store = open(folder);
    store.append(b"doc", 1, b"one").unwrap();
    store.append(b"doc", 2, b"two").unwrap();
    store.set_setting("name", b"value").unwrap();
    store.put_blob(b"a photograph").unwrap()
}

#[test]
fn an_altered_blob_is_found_out_and_mended_by_putting_it_again() {
    let folder = tempfile::tempdir().unwrap();
    let id = filled(folder.path());
    type Alter = fn(&Path, &Path);
    let ways: [(&str, Alter); 6] = [
        ("one bit", |file, _| {
            let mut bytes = fs::read(file).unwrap();
            bytes[3] ^= 1;
            fs::write(file, bytes).unwrap();
        }),
        ("cut", |file, _| fs::write(file, b"short").unwrap()),
        ("longer", |file, _| {
            let bytes = [fs::read(file).unwrap(), vec![0]].concat();
            fs::write(file, bytes).unwrap();
        }),
        ("gone", |file, _| fs::remove_file(file).unwrap()),
        ("another key", |_, folder| {
            alter(folder, "UPDATE blobs SET key = zeroblob(32)");
        }),
        ("another length", |_, folder| {
            alter(folder, "UPDATE blobs SET length = length + 1");
        }),
    ];
    for (way, alter) in ways {
        alter(&blob_files(folder.path())[0], folder.path());
        let store = open(folder.path());
        assert!(damaged(store.blob(id)), "{way}");
        assert!(damaged(store.check()), "{way}");
        store.put_blob(b"a photograph").unwrap();
        assert_eq!(store.blob(id).unwrap(), Some(b"a photograph".to_vec()));
        assert_eq!(blob_files(folder.path()).len(), 1, "{way}");
        store.check().unwrap();
    }
}

/// A file that is sound in itself, but is another blob's.
#[test]
fn blob_files_that_changed_places_are_found_out() {
    let folder = tempfile::tempdir().unwrap();
    let store = open(folder.path());
    let ids = [b"a photograph", b"b photograph"].map(|bytes| store.put_blob(bytes).unwrap());
    let files = blob_files(folder.path());
    let other = fs::read(&files[1]).unwrap();
    fs::rename(&files[0], &files[1]).unwrap();
    fs::write(&files[0], other).unwrap();
    for id in ids {
        assert!(damaged(store.blob(id)));
    }
    drop(store);
    // Even where whoever swapped them could alter the rows.
    alter(
        folder.path(),
        "UPDATE blobs SET (name, key) = (SELECT name, key FROM blobs ORDER BY id LIMIT 1)
         WHERE id = (SELECT max(id) FROM blobs)",
    );
    assert!(damaged(open(folder.path()).blob(ids[0].max(ids[1]))));
}

#[test]
fn a_length_that_no_blob_has_takes_no_memory() {
    let folder = tempfile::tempdir().unwrap();
    let id = filled(folder.path());
    alter(folder.path(), "UPDATE blobs SET length = 1 << 50");
    let store = open(folder.path());
    assert!(damaged(store.blob(id)));
    assert!(damaged(store.blob_length(id)));
}

#[test]
fn an_altered_change_is_found_out() {
    let folder = tempfile::tempdir().unwrap();
    filled(folder.path());
    alter(
        folder.path(),
        "UPDATE changes SET bytes = x'00' WHERE seq = 2",
    );
    let store = open(folder.path());
    assert!(damaged(store.changes(b"doc", 1..)));
    assert!(damaged(store.check()));
}

#[test]
fn a_change_moved_to_another_place_is_found_out() {
    let folder = tempfile::tempdir().unwrap();
    filled(folder.path());
    alter(folder.path(), "UPDATE changes SET seq = 3 WHERE seq = 2");
    assert!(damaged(open(folder.path()).changes(b"doc", 1..)));
}

#[test]
fn an_altered_setting_is_found_out() {
    let folder = tempfile::tempdir().unwrap();
    filled(folder.path());
    alter(folder.path(), "UPDATE settings SET bytes = x'00'");
    assert!(damaged(open(folder.path()).setting("name")));
}

#[test]
fn overwritten_pages_never_panic_and_never_give_other_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let change = crate::child::photo(5);
    open(folder.path()).append(b"doc", 1, &change).unwrap();
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
            Ok(store) => match store.changes(b"doc", 1..) {
                Ok(read) if !read.is_empty() => assert_eq!(read, [(1, change.clone())]),
                Ok(_) | Err(_) => found_out += 1,
            },
        }
    }
    assert!(found_out > 30, "{found_out} of 60 found out");
}
