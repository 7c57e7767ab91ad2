//! A folder as the version before left it: its photographs' files are sealed with XChaCha20-Poly1305, and
//! nothing says so.

use std::fs;
use std::path::Path;

use chacha20poly1305::aead::{Aead, KeyInit, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use rusqlite::params;
use store::{Passphrase, Store};

use crate::child::filling;
use crate::ground::{blob_files, damaged, database, id_of, open, opener};

const CHUNK: usize = 64 << 10;

fn photos() -> [Vec<u8>; 4] {
    [0, 900, 2 * CHUNK, 150_000].map(|length| filling(length as u64, length))
}

/// The bytes sealed as that version did, by other code.
fn sealed_before(key: &[u8], id: &[u8], bytes: &[u8]) -> Vec<u8> {
    let cipher = XChaCha20Poly1305::new_from_slice(key).unwrap();
    let chunks: Vec<&[u8]> = match bytes {
        [] => vec![&[]],
        _ => bytes.chunks(CHUNK).collect(),
    };
    let seal = |(index, msg): (usize, &&[u8])| {
        let mut nonce = [0; 24];
        nonce[15..23].copy_from_slice(&(index as u64).to_be_bytes());
        nonce[23] = u8::from(index + 1 == chunks.len());
        let payload = Payload { msg, aad: id };
        cipher.encrypt(&XNonce::from(nonce), payload).unwrap()
    };
    chunks.iter().enumerate().flat_map(seal).collect()
}

/// A folder with photographs, made into one of the version before.
fn older(folder: &Path) {
    let store = open(folder);
    for photo in photos() {
        store.put_blob(&photo).unwrap();
    }
    drop(store);
    let database = database(folder);
    for photo in photos() {
        let id = id_of(&photo).0;
        let row = "SELECT name, key FROM blobs WHERE id = ?1";
        let (name, key): (Vec<u8>, Vec<u8>) = database
            .query_row(row, params![id], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap();
        let name: String = name.iter().map(|byte| format!("{byte:02x}")).collect();
        let file = folder.join("blobs").join(&name[..2]).join(&name);
        let before = fs::read(&file).unwrap();
        let sealed = sealed_before(&key, &id, &photo);
        assert_eq!(sealed.len(), before.len());
        assert_ne!(sealed, before);
        fs::write(file, sealed).unwrap();
    }
    let steps = "ALTER TABLE blobs DROP COLUMN cipher; PRAGMA user_version = 2;";
    database.execute_batch(steps).unwrap();
}

fn ciphers(folder: &Path) -> Vec<i64> {
    let database = database(folder);
    let mut rows = database
        .prepare("SELECT cipher FROM blobs ORDER BY cipher")
        .unwrap();
    let rows = rows.query_map([], |row| row.get(0)).unwrap();
    rows.map(Result::unwrap).collect()
}

fn all_there(store: &Store) {
    store.check().unwrap();
    for photo in photos() {
        assert_eq!(store.blob(id_of(&photo)).unwrap(), Some(photo));
    }
}

#[test]
fn its_photographs_are_as_they_were_and_new_ones_are_sealed_anew() {
    let folder = tempfile::tempdir().unwrap();
    older(folder.path());
    let files = blob_files(folder.path());
    let store = open(folder.path());
    all_there(&store);
    store.put_blob(b"a new photograph").unwrap();
    // One that is here already stays as it is.
    store.put_blob(&photos()[3]).unwrap();
    store.renew_key().unwrap();
    all_there(&store);
    drop(store);
    assert_eq!(ciphers(folder.path()), [1, 1, 1, 1, 2]);
    assert!(files.iter().all(|file| file.exists()));
    all_there(&open(folder.path()));
}

#[test]
fn its_photographs_are_in_a_backup_and_come_back_sealed_anew() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    older(&at("before"));
    let words = Passphrase::new("three herons by the weir");
    let store = open(&at("before"));
    store.backup(&at("backup"), &words).unwrap();
    drop(store);
    let back = Store::restore(&at("backup"), &words, &at("after"), &opener());
    all_there(&back.unwrap());
    assert_eq!(ciphers(&at("after")), [2; 4]);
}

#[test]
fn a_damaged_one_is_found_out_and_mended() {
    let folder = tempfile::tempdir().unwrap();
    older(folder.path());
    let photo = photos()[3].clone();
    for file in blob_files(folder.path()) {
        let mut bytes = fs::read(&file).unwrap();
        let last = bytes.len() - 1;
        bytes[last] ^= 1;
        fs::write(file, bytes).unwrap();
    }
    let store = open(folder.path());
    assert!(damaged(store.blob(id_of(&photo))));
    store.put_blob(&photo).unwrap();
    assert_eq!(store.blob(id_of(&photo)).unwrap(), Some(photo));
    drop(store);
    assert_eq!(ciphers(folder.path()), [1, 1, 1, 2]);
}
