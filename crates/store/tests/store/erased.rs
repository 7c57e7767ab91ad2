//! Nothing can be read in the folder without its key, and nothing that was removed with it.

use std::fs;
use std::path::Path;

use cbc::cipher::{BlockModeDecrypt, KeyIvInit};
use rusqlite::types::ValueRef;
use store::{Store, Write};

use crate::child::filling;
use crate::ground::{
    blob_files, contains, database, database_keys, database_under, files, folder, id_of, open,
};

const DOC: &[u8] = b"the book of a heron";
const CHANGE: &[u8] = b"wrote a line of tall letters";
const SETTING: &str = "setting/of/a/heron";
const VALUE: &[u8] = b"sits on the third chair";
const BLOB: &[u8] = b"a photograph of a page by the weir";

fn photo() -> Vec<u8> {
    BLOB.iter().copied().cycle().take(200_000).collect()
}

fn part() -> Vec<u8> {
    let part: Vec<u8> = b"half a photograph, on its way".repeat(100);
    part
}

/// A store that holds each of the above.
fn filled(folder: &Path) -> Store {
    let store = open(folder);
    for seq in 1..=40 {
        store.append(DOC, seq, &CHANGE.repeat(300)).unwrap();
        store
            .append(b"another book", seq, &filling(seq, 800))
            .unwrap();
    }
    store.set_setting(SETTING, VALUE).unwrap();
    store.put_blob(&photo()).unwrap();
    store.put_blob(b"another photograph").unwrap();
    store.keep_part(id_of(b"whole"), 0, &part()).unwrap();
    store
}

fn traces() -> Vec<Vec<u8>> {
    let id = id_of(&photo());
    vec![
        DOC.to_vec(),
        CHANGE.to_vec(),
        SETTING.as_bytes().to_vec(),
        VALUE.to_vec(),
        BLOB.to_vec(),
        part()[..29].to_vec(),
        id.0.to_vec(),
        id.to_string().into_bytes(),
        // What would show that a database is not encrypted.
        b"SQLite format 3".to_vec(),
        b"CREATE TABLE".to_vec(),
        b"settings".to_vec(),
    ]
}

/// Which of the traces stand in the bytes.
fn seen<'a>(bytes: &[u8], traces: &'a [Vec<u8>]) -> Vec<&'a [u8]> {
    let traces = traces.iter().map(Vec::as_slice);
    traces.filter(|trace| contains(bytes, trace)).collect()
}

fn assert_dark(folder: &Path) {
    for file in files(folder) {
        let bytes = fs::read(&file).unwrap();
        assert_eq!(seen(&bytes, &traces()), [b""; 0], "{file:?}");
        let name = file.to_str().unwrap().as_bytes();
        assert_eq!(seen(name, &traces()), [b""; 0], "{file:?}");
    }
}

#[test]
fn nothing_can_be_read_in_the_folder_without_its_key() {
    let folder = folder();
    let store = filled(folder.path());
    let log = folder.path().join("pothook.sqlite-wal");
    assert!(
        fs::metadata(log).unwrap().len() > 100_000,
        "the log is looked at too"
    );
    assert_dark(folder.path());
    store.renew_key().unwrap();
    assert_dark(folder.path());
    drop(store);
    assert_dark(folder.path());
    // The search finds what is there.
    assert_eq!(seen(&everything(folder.path()), &traces()[..8]).len(), 8);
}

/// Every value of every table, and the blobs.
fn everything(folder: &Path) -> Vec<u8> {
    let mut found = Vec::new();
    {
        let database = database(folder);
        let mut tables = database
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'table'")
            .unwrap();
        let tables = tables.query_map([], |row| row.get(0)).unwrap();
        for table in tables.collect::<Result<Vec<String>, _>>().unwrap() {
            found.extend(table.bytes());
            let mut rows = database.prepare(&format!("SELECT * FROM {table}")).unwrap();
            let columns = rows.column_count();
            let mut rows = rows.query([]).unwrap();
            while let Some(row) = rows.next().unwrap() {
                for column in 0..columns {
                    match row.get_ref(column).unwrap() {
                        ValueRef::Text(bytes) | ValueRef::Blob(bytes) => found.extend(bytes),
                        _ => {}
                    }
                    found.push(b'\n');
                }
            }
        }
        let free: i64 = database
            .pragma_query_value(None, "freelist_count", |row| row.get(0))
            .unwrap();
        assert_eq!(free, 0, "every page belongs to a table");
    }
    let store = open(folder);
    for id in store.blobs().unwrap() {
        found.extend(store.blob(id).unwrap().unwrap());
        found.extend(id.to_string().bytes());
    }
    found
}

#[test]
fn what_was_removed_is_gone_after_a_renewal() {
    let folder = folder();
    let store = filled(folder.path());
    let old_files = blob_files(folder.path());
    let remains: Vec<Vec<u8>> = old_files
        .iter()
        .map(|file| fs::read(file).unwrap())
        .collect();
    let old_key = database_keys(folder.path())[0];
    store
        .transaction(vec![
            Write::RemoveDoc(DOC.to_vec()),
            Write::RemoveSetting(SETTING.into()),
            Write::RemoveBlob(id_of(&photo())),
            Write::RemoveBlob(id_of(b"whole")),
        ])
        .unwrap();
    // The database as it lay on the disk before, with its log: what an undeleting tool would find.
    let before = [
        fs::read(folder.path().join("pothook.sqlite")).unwrap(),
        fs::read(folder.path().join("pothook.sqlite-wal")).unwrap(),
        fs::read(folder.path().join("pothook.key")).unwrap(),
    ];
    store.renew_key().unwrap();
    store.check().unwrap();
    assert_eq!(store.changes(b"another book", 0..).unwrap().len(), 40);
    drop(store);

    assert_dark(folder.path());
    let left = everything(folder.path());
    let traces = traces();
    assert_eq!(seen(&left, &traces[..8]), [b""; 0]);
    assert!(contains(&left, b"another photograph"));

    // Nothing in the folder opens what was there before: the old key is in no file, and the new one is
    // another.
    let new_key = database_keys(folder.path())[0];
    assert_ne!(old_key, new_key);
    for file in files(folder.path()) {
        let bytes = fs::read(file).unwrap();
        assert!(!contains(&bytes, &old_key));
        assert!(
            !contains(&bytes, &before[2][before[2].len() - 72..]),
            "the old sealed key"
        );
    }
    let old = folder.path().join("old.sqlite");
    fs::write(&old, &before[0]).unwrap();
    fs::write(folder.path().join("old.sqlite-wal"), &before[1]).unwrap();
    let tables = |key| {
        let database = database_under(&old, key);
        database.query_row("SELECT count(*) FROM sqlite_schema", [], |row| {
            row.get::<_, i64>(0)
        })
    };
    assert!(tables(&new_key).is_err());
    // With the old key it would: so it is the key that makes an end of it.
    assert!(tables(&old_key).unwrap() > 0);
    // The removed photograph's file is gone, and its key with its row.
    assert_eq!(old_files.len(), 2);
    assert_eq!(blob_files(folder.path()).len(), 1);
    let database = database(folder.path());
    let mut keys = database.prepare("SELECT key FROM blobs").unwrap();
    let keys: Vec<[u8; 32]> = keys
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(keys.len(), 1);
    assert!(remains.iter().all(|file| seen(file, &traces).is_empty()));
}

/// Even before a renewal, the pages of what was removed are overwritten where they stand.
#[test]
fn what_was_removed_is_overwritten_in_the_database() {
    let folder = folder();
    let store = filled(folder.path());
    let key = database_keys(folder.path())[0];
    store
        .transaction(vec![Write::RemoveDoc(DOC.to_vec())])
        .unwrap();
    drop(store);
    let path = folder.path().join("pothook.sqlite");
    let database = database_under(&path, &key);
    let free: i64 = database
        .pragma_query_value(None, "freelist_count", |row| row.get(0))
        .unwrap();
    assert!(free > 5, "{free} free pages to look at");
    drop(database);
    let pages = decrypted_pages(&path, &key);
    assert_eq!(seen(&pages, &[CHANGE.to_vec(), DOC.to_vec()]), [b""; 0]);
    assert!(contains(&pages, b"another book") && contains(&pages, b"CREATE TABLE"));
}

/// Every page of the database, the free ones too, decrypted with a general library as SQLCipher's
/// design describes it (<https://www.zetetic.net/sqlcipher/design/>): 4096 bytes each, of which the last
/// 80 are the initialisation vector (16) and a keyed checksum (64), the rest AES-256 in CBC mode; of the
/// first page the first 16 bytes are a salt.
fn decrypted_pages(path: &Path, key: &[u8; 32]) -> Vec<u8> {
    let bytes = fs::read(path).unwrap();
    assert_eq!(bytes.len() % 4096, 0);
    let mut plain = Vec::new();
    for (index, page) in bytes.chunks(4096).enumerate() {
        let (sealed, rest) = page.split_at(4096 - 80);
        let vector: [u8; 16] = rest[..16].try_into().unwrap();
        let mut cipher = cbc::Decryptor::<aes::Aes256>::new(&(*key).into(), &vector.into());
        for block in sealed.chunks(16).skip(usize::from(index == 0)) {
            let mut block: [u8; 16] = block.try_into().unwrap();
            cipher.decrypt_block((&mut block).into());
            plain.extend(block);
        }
    }
    plain
}
