//! How long keeping and reading takes; printed, never judged.
//!
//! `cargo test --release -p store --test store speed -- --ignored --nocapture --test-threads 1`

use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;
use std::time::Instant;

use store::{Opener, Passphrase, Store};

use crate::child::filling;
use crate::ground::{id_of, open};

const PHOTOS: u64 = 60;
const BYTES: usize = 1_200_000;

fn megabytes_a_second(what: &str, since: Instant) {
    let seconds = since.elapsed().as_secs_f64();
    let bytes = PHOTOS as f64 * BYTES as f64;
    println!("{what:42} {:7.0} MB/s", bytes / 1e6 / seconds);
}

fn plain_files(folder: &Path, photos: &[Vec<u8>]) {
    std::fs::create_dir(folder).unwrap();
    let begun = Instant::now();
    for (index, photo) in photos.iter().enumerate() {
        let mut file = File::create_new(folder.join(index.to_string())).unwrap();
        file.write_all(photo).unwrap();
        file.sync_all().unwrap();
        File::open(folder).unwrap().sync_all().unwrap();
    }
    megabytes_a_second("plain files, written and forced to disk", begun);
    let begun = Instant::now();
    for index in 0..photos.len() {
        let mut bytes = Vec::new();
        let mut file = File::open(folder.join(index.to_string())).unwrap();
        file.read_to_end(&mut bytes).unwrap();
        assert_eq!(bytes.len(), BYTES);
    }
    megabytes_a_second("plain files, read", begun);
}

#[test]
#[ignore = "measures; asserts no time"]
fn photographs() {
    let folder = tempfile::tempdir().unwrap();
    let photos: Vec<_> = (0..PHOTOS).map(|seed| filling(seed, BYTES)).collect();
    plain_files(&folder.path().join("plain"), &photos);

    let store = open(&folder.path().join("data"));
    let begun = Instant::now();
    for photo in &photos {
        store.put_blob(photo).unwrap();
    }
    megabytes_a_second("put_blob", begun);
    let begun = Instant::now();
    for photo in &photos {
        assert!(store.blob(id_of(photo)).unwrap().is_some());
    }
    megabytes_a_second("blob (with hashing the name for the test)", begun);
    let passphrase = Passphrase::new("kept in a drawer");
    let backup = folder.path().join("backup");
    let begun = Instant::now();
    store.backup(&backup, &passphrase).unwrap();
    megabytes_a_second("backup, read back too", begun);
    let begun = Instant::now();
    Store::restore(
        &backup,
        &passphrase,
        &folder.path().join("restored"),
        &crate::ground::opener(),
    )
    .unwrap();
    megabytes_a_second("restore", begun);
}

#[test]
#[ignore = "measures; asserts no time"]
fn a_start_with_a_large_practice() {
    let folder = tempfile::tempdir().unwrap();
    let store = open(folder.path());
    for doc in 0..160_u64 {
        let changes: Vec<_> = (1..=64)
            .map(|seq| (seq, filling(seq ^ doc << 20, 4_000)))
            .collect();
        let name = doc.to_le_bytes();
        let changes: Vec<_> = changes
            .iter()
            .map(|(seq, bytes)| (&name[..], *seq, &bytes[..]))
            .collect();
        store.append_all(&changes).unwrap();
    }
    let milliseconds = |what: &str, since: Instant| {
        println!("{what:42} {:7.1} ms", since.elapsed().as_secs_f64() * 1e3);
    };
    drop(store);
    let length = std::fs::metadata(folder.path().join("pothook.sqlite"))
        .unwrap()
        .len();
    println!("{:42} {:7.1} MB", "database", length as f64 / 1e6);
    let begun = Instant::now();
    let store = open(folder.path());
    milliseconds("open with a key", begun);
    let begun = Instant::now();
    assert_eq!(store.docs().unwrap().len(), 160);
    milliseconds("docs", begun);
    let begun = Instant::now();
    let read: usize = store
        .docs()
        .unwrap()
        .iter()
        .map(|(doc, _)| store.changes(doc, 0..).unwrap().len())
        .sum();
    assert_eq!(read, 160 * 64);
    milliseconds("all changes", begun);
    let begun = Instant::now();
    for seq in 65..=164 {
        store.append(&[0; 8], seq, &filling(seq, 4_000)).unwrap();
    }
    milliseconds("100 changes, a transaction each", begun);
    let begun = Instant::now();
    store.renew_key().unwrap();
    milliseconds("renew_key", begun);
    let begun = Instant::now();
    store.check().unwrap();
    milliseconds("check", begun);
    let passphrase = Opener::Passphrase(Passphrase::new("three herons by the weir"));
    store.change_opener(&passphrase).unwrap();
    drop(store);
    let begun = Instant::now();
    drop(Store::open(folder.path(), &passphrase).unwrap());
    milliseconds("open with a passphrase", begun);
}
