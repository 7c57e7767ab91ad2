//! Backups that are damaged, foreign or sealed with other words.

use std::fs;
use std::path::Path;

use store::{BackupError, Passphrase, Store, StoreError};

use crate::backup::{filled, sealed, with_little_work, words};
use crate::child::{filling, next};
use crate::ground::{Content, assert_tidy, blob_files, content, files, folder, open, opener};

/// Reading and bringing back agree on what is wrong; and nothing is brought back.
fn refused(file: &Path) -> BackupError {
    let target = folder();
    let path = target.path().join("data");
    let read = Store::check_backup(file, &words()).expect_err("it was read");
    let brought =
        Store::restore(file, &words(), &path, &opener()).expect_err("it was brought back");
    assert_eq!(read.to_string(), brought.to_string());
    if path.is_dir() {
        assert_eq!(Store::locked_by(&path).unwrap(), None);
        assert_eq!(blob_files(&path).len(), 0);
        let left: Vec<_> = files(&path);
        assert_eq!(left, [path.join("pothook.lock")]);
    }
    let new = target.path().join("new");
    let store = open(&new);
    let taken = store.take_in(file, &words(), "", &|_, _| None);
    assert_eq!(
        read.to_string(),
        taken.expect_err("it was taken in").to_string()
    );
    assert_eq!(content(&store, &[]), Content::default());
    assert_tidy(&new, &store);
    read
}

#[test]
fn what_is_no_backup_is_said_to_be_none() {
    let folder = folder();
    let file = folder.path().join("file");
    assert!(matches!(refused(&file), BackupError::Disk(_)));
    let key = age::x25519::Identity::generate();
    let no_backups = [
        Vec::new(),
        b"Dear tutor".to_vec(),
        b"age-encryption.org/v1\n".to_vec(),
        [b"age-encryption.org/v1\n".as_slice(), &[b'x'; 100_000]].concat(),
        filling(3, 10_000),
        age::encrypt(&key.to_public(), b"pothook backup\n\x01").unwrap(),
        sealed(b"Dear tutor, here are the marks"),
    ];
    for bytes in no_backups {
        fs::write(&file, &bytes).unwrap();
        let error = refused(&file);
        assert!(
            matches!(error, BackupError::NotABackup),
            "{error:?}: {}",
            bytes.len()
        );
    }
    for (bytes, cut_short) in [
        (b"".as_slice(), true),
        (b"pothook backup\n", true),
        (b"pothook backup\n\x01", true),
        (b"pothook backup\n\x09", false),
    ] {
        fs::write(&file, sealed(bytes)).unwrap();
        let error = refused(&file);
        match cut_short {
            true => assert!(matches!(error, BackupError::Damaged(_)), "{error:?}"),
            false => assert!(
                matches!(error, BackupError::Newer { version: 9 }),
                "{error:?}"
            ),
        }
    }
}

#[test]
fn a_wrong_passphrase_opens_no_backup() {
    let folder = folder();
    let (store, _) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    store
        .backup(&file, &Passphrase::new("kept in another drawer"))
        .unwrap();
    let error = refused(&file);
    assert!(matches!(error, BackupError::WrongPassphrase), "{error:?}");
}

#[test]
fn a_damaged_backup_is_found_out_wherever_it_is_damaged() {
    let folder = folder();
    let (store, _) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    store.backup(&file, &words()).unwrap();
    with_little_work(&file);
    let whole = fs::read(&file).unwrap();
    let header = whole
        .windows(4)
        .position(|bytes| bytes == b"\n---")
        .unwrap();
    let damaged = folder.path().join("damaged");
    let refused = |bytes: &[u8], about: String| {
        fs::write(&damaged, bytes).unwrap();
        let error = refused(&damaged);
        let told = match error {
            BackupError::Damaged(_) => true,
            BackupError::NotABackup | BackupError::WrongPassphrase => about.contains("header"),
            _ => false,
        };
        assert!(told, "{about}: {error:?}");
    };
    let mut seed = 11;
    for _ in 0..100 {
        let at = header + 70 + next(&mut seed) as usize % (whole.len() - header - 70);
        let mut bytes = whole.clone();
        bytes[at] ^= 1;
        refused(&bytes, format!("altered at {at}"));
        refused(&whole[..at], format!("cut at {at}"));
    }
    refused(&whole[..whole.len() - 1], "cut at the last byte".into());
    refused(&[whole.clone(), vec![0]].concat(), "longer".into());
    for at in 0..header {
        let mut bytes = whole.clone();
        bytes[at] ^= 1;
        refused(&bytes, format!("header altered at {at}"));
        refused(&whole[..at], format!("header cut at {at}"));
    }
}

/// A backup in which something is damaged is not made.
#[test]
fn a_damaged_store_says_so_instead_of_making_half_a_backup() {
    let folder = folder();
    let (store, _) = filled(&folder.path().join("data"));
    let file = blob_files(&folder.path().join("data")).remove(1);
    let mut bytes = fs::read(&file).unwrap();
    bytes[0] ^= 1;
    fs::write(&file, bytes).unwrap();
    let refused = store.backup(&folder.path().join("backup"), &words());
    let is_told = matches!(refused, Err(BackupError::Store(StoreError::Damaged(_))));
    assert!(is_told, "{refused:?}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
}
