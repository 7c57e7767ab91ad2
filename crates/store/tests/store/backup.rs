//! Backups: made, read, damaged and brought back.

use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use age::secrecy::SecretString;
use store::{
    BackupError, BackupReport, Key, OpenError, Opener, Passphrase, Store, Surroundings, Write,
};
use units::BlobId;

use crate::child::filling;
use crate::faults::{Failing, PowerCuts};
use crate::ground::{
    Content, MemoryKeyring, assert_tidy, contains, content, folder, id_of, open, opened_in, opener,
};

pub const WORDS: &str = "kept in a drawer";

pub fn words() -> Passphrase {
    Passphrase::new(WORDS)
}

/// Three documents with five changes, two settings, three blobs, and part of another.
pub fn filled(folder: &Path) -> (Store, Content) {
    let store = open(folder);
    for (doc, seq) in [(b"b", 1), (b"b", 2), (b"a", 7), (b"c", 1), (b"c", 9)] {
        store.append(doc, seq, &filling(seq, 900)).unwrap();
    }
    store.set_setting("name", b"value").unwrap();
    store.set_setting("empty", b"").unwrap();
    for length in [0, 10, 150_000] {
        store.put_blob(&filling(9, length)).unwrap();
    }
    store.keep_part(BlobId([5; 32]), 0, b"on its way").unwrap();
    let held = content(&store, &["name", "empty", "other"]);
    (store, held)
}

/// The same backup sealed with so little work that it can be tried many times.
pub fn with_little_work(file: &Path) {
    let identity = age::scrypt::Identity::new(SecretString::from(WORDS));
    let plain = age::decrypt(&identity, &fs::read(file).unwrap()).unwrap();
    fs::write(file, sealed(&plain)).unwrap();
}

/// Sealed like a backup.
pub fn sealed(plain: &[u8]) -> Vec<u8> {
    let mut recipient = age::scrypt::Recipient::new(SecretString::from(WORDS));
    recipient.set_work_factor(4);
    age::encrypt(&recipient, plain).unwrap()
}

/// The report of that, for a file of so many bytes.
fn report(bytes: u64) -> BackupReport {
    BackupReport {
        documents: 3,
        changes: 5,
        settings: 2,
        blobs: 3,
        bytes,
    }
}

#[test]
fn a_backup_brings_everything_back_under_another_opener() {
    let folder = folder();
    let (store, held) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    let written = store.backup(&file, &words()).unwrap();
    assert_eq!(written, report(fs::metadata(&file).unwrap().len()));
    assert_eq!(Store::check_backup(&file, &words()).unwrap(), written);
    let keyring = MemoryKeyring::default();
    for opener in [Opener::Keyring, Opener::Key(Key::new([2; 32]))] {
        let path = folder.path().join(format!("{:?}", opener.holder()));
        let restored =
            Store::restore_in(&file, &words(), &path, &opener, &keyring.around()).unwrap();
        assert_eq!(content(&restored, &["name", "empty", "other"]), held);
        assert_eq!(restored.part(BlobId([5; 32])).unwrap(), None);
        restored.append(b"a", 8, b"and it goes on").unwrap();
        drop(restored);
        let restored = opened_in(&path, &opener, &keyring.around()).unwrap();
        assert_eq!(restored.changes(b"a", 8..).unwrap().len(), 1);
        assert_tidy(&path, &restored);
    }
    // It was only read.
    assert_eq!(content(&store, &["name", "empty", "other"]), held);
    assert_eq!(
        store.part(BlobId([5; 32])).unwrap(),
        Some(b"on its way".to_vec())
    );
}

#[test]
fn an_empty_store_has_a_backup_too() {
    let folder = folder();
    let file = folder.path().join("backup");
    let written = open(&folder.path().join("data"))
        .backup(&file, &words())
        .unwrap();
    let bytes = fs::metadata(&file).unwrap().len();
    assert_eq!(
        written,
        BackupReport {
            bytes,
            ..BackupReport::default()
        }
    );
    let restored = Store::restore(&file, &words(), &folder.path().join("new"), &opener()).unwrap();
    assert_eq!(content(&restored, &[]), Content::default());
}

#[test]
fn settings_come_back_as_they_are_given() {
    let folder = folder();
    let file = folder.path().join("backup");
    let store = open(&folder.path().join("data"));
    for name in ["kept", "left out", "renamed", "changed"] {
        store.set_setting(name, name.as_bytes()).unwrap();
    }
    store.backup(&file, &words()).unwrap();
    let new = folder.path().join("new");
    let (opener, around) = (opener(), Surroundings::default());
    let setting = |name: &str, bytes: &[u8]| match name {
        "left out" => None,
        "renamed" => Some(("another".to_owned(), bytes.to_vec())),
        "changed" => Some((name.to_owned(), [bytes, b"!"].concat())),
        name => Some((name.to_owned(), bytes.to_vec())),
    };
    let restored = Store::restore_as(&file, &words(), &new, &opener, &around, &setting);
    let restored = restored.unwrap();
    let names = restored.settings_under("").unwrap();
    assert_eq!(names, ["another", "changed", "kept"]);
    assert_eq!(restored.setting("another").unwrap().unwrap(), b"renamed");
    assert_eq!(restored.setting("changed").unwrap().unwrap(), b"changed!");
    assert_eq!(restored.setting("kept").unwrap().unwrap(), b"kept");
}

/// Opened by the age library alone, and read by other code as `src/backup/records.rs` describes it.
#[test]
fn a_backup_is_an_age_file_of_the_described_form() {
    let folder = folder();
    let (store, held) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    store.backup(&file, &words()).unwrap();
    let sealed = fs::read(&file).unwrap();
    assert!(sealed.starts_with(b"age-encryption.org/v1\n-> scrypt "));
    for trace in [b"value".as_slice(), &filling(9, 150_000)[..32], b"pothook"] {
        assert!(!contains(&sealed, trace));
    }
    let identity = age::scrypt::Identity::new(SecretString::from(WORDS));
    let plain = age::decrypt(&identity, &sealed).unwrap();
    let (magic, mut rest) = plain.split_at(16);
    assert_eq!(magic, b"pothook backup\n\x01");
    let mut found = Vec::new();
    loop {
        let (head, tail) = rest.split_at(15);
        let number = u64::from_le_bytes(head[1..9].try_into().unwrap());
        let name = usize::from(u16::from_le_bytes(head[9..11].try_into().unwrap()));
        let bytes = u32::from_le_bytes(head[11..].try_into().unwrap()) as usize;
        let (name, tail) = tail.split_at(name);
        let (bytes, tail) = tail.split_at(bytes);
        if head[0] == 4 {
            assert_eq!(number, found.len() as u64);
            let before = &plain[..plain.len() - rest.len()];
            assert_eq!(name, blake3::hash(before).as_bytes());
            assert!(bytes.is_empty() && tail.is_empty());
            break;
        }
        found.push((head[0], name.to_vec(), number, bytes.to_vec()));
        rest = tail;
    }
    let mut expected = Vec::new();
    for (doc, seq, bytes) in held.changes {
        expected.push((1, doc, seq, bytes));
    }
    expected.push((2, b"empty".to_vec(), 0, Vec::new()));
    expected.push((2, b"name".to_vec(), 0, b"value".to_vec()));
    for bytes in held.blobs {
        expected.push((3, id_of(&bytes).0.to_vec(), 0, bytes));
    }
    assert_eq!(found, expected);
}

#[test]
fn no_file_is_written_over() {
    let folder = folder();
    let (store, _) = filled(&folder.path().join("data"));
    let file = folder.path().join("letter");
    fs::write(&file, b"Dear tutor").unwrap();
    for path in [file.clone(), folder.path().join("data")] {
        let refused = store.backup(&path, &words());
        assert!(matches!(refused, Err(BackupError::Exists)), "{refused:?}");
    }
    assert_eq!(fs::read(&file).unwrap(), b"Dear tutor");
    let refused = store.backup(&folder.path().join("no such").join("file"), &words());
    assert!(matches!(refused, Err(BackupError::Disk(_))), "{refused:?}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
}

#[cfg(unix)]
#[test]
fn only_the_owner_can_read_a_backup() {
    use std::os::unix::fs::PermissionsExt;

    let folder = folder();
    let file = folder.path().join("backup");
    open(&folder.path().join("data"))
        .backup(&file, &words())
        .unwrap();
    assert_eq!(
        fs::metadata(file).unwrap().permissions().mode() & 0o777,
        0o600
    );
}

#[test]
fn a_backup_is_not_brought_back_over_a_store() {
    let folder = folder();
    let (store, held) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    store.backup(&file, &words()).unwrap();
    drop(store);
    let bring_back = |to: &str| Store::restore(&file, &words(), &folder.path().join(to), &opener());
    let refused = bring_back("data");
    assert!(
        matches!(refused, Err(BackupError::StoreThere)),
        "{refused:?}"
    );
    let store = open(&folder.path().join("data"));
    assert_eq!(content(&store, &["name", "empty", "other"]), held);
    let refused = bring_back("data");
    assert!(
        matches!(refused, Err(BackupError::Open(OpenError::InUse))),
        "{refused:?}"
    );
    let other = folder.path().join("other");
    fs::create_dir(&other).unwrap();
    fs::write(other.join("pothook.sqlite"), b"Dear tutor").unwrap();
    let refused = bring_back("other");
    assert!(
        matches!(refused, Err(BackupError::Open(OpenError::NotADatabase))),
        "{refused:?}"
    );
    assert_eq!(
        fs::read(other.join("pothook.sqlite")).unwrap(),
        b"Dear tutor"
    );
}

#[test]
fn others_go_on_writing_while_a_backup_is_made() {
    let folder = folder();
    let (store, _) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    for number in 0..40 {
        store.put_blob(&filling(100 + number, 200_000)).unwrap();
    }
    let done = AtomicBool::new(false);
    let (written, turns) = std::thread::scope(|scope| {
        let writer = scope.spawn(|| {
            let mut turns = 0;
            while !done.load(Ordering::Relaxed) {
                turns += 1;
                // A change and its photograph together; the oldest photographs go.
                let photo = filling(1000 + turns, 60_000);
                let change = Write::Change {
                    doc: b"new".to_vec(),
                    seq: turns,
                    bytes: id_of(&photo).0.to_vec(),
                };
                store.transaction(vec![Write::Blob(photo), change]).unwrap();
                let old = id_of(&filling(99 + turns, 200_000));
                if turns <= 20 {
                    store.remove_blob(old).unwrap();
                }
            }
            turns
        });
        let written = store.backup(&file, &words()).unwrap();
        done.store(true, Ordering::Relaxed);
        (written, writer.join().unwrap())
    });
    assert!(turns > 1, "{turns}");
    let restored = Store::restore(&file, &words(), &folder.path().join("new"), &opener()).unwrap();
    restored.check().unwrap();
    assert_eq!(restored.blobs().unwrap().len() as u64, written.blobs);
    // Every change that is in it came with its photograph.
    for (_, id) in restored.changes(b"new", 0..).unwrap() {
        assert!(restored.has_blob(BlobId(id.try_into().unwrap())).unwrap());
    }
    println!("{turns} writes meanwhile; {written:?}");
}

#[test]
fn a_backup_has_its_name_only_when_it_is_whole() {
    let root = folder();
    let (store, _) = filled(&root.path().join("data"));
    drop(store);
    let keyring = MemoryKeyring::default();
    let disk = Arc::new(PowerCuts::new(root.path(), &keyring));
    let around = keyring.around_on(disk.clone());
    let store = opened_in(&root.path().join("data"), &opener(), &around).unwrap();
    disk.begin();
    let written = store.backup(&root.path().join("backup"), &words()).unwrap();
    let mut named = 0;
    for shot in disk.end() {
        let file = shot.path().join("backup");
        if file.exists() {
            assert_eq!(
                Store::check_backup(&file, &words()).unwrap(),
                written,
                "{}",
                shot.about
            );
            named += 1;
        }
        assert!(file.exists() || !shot.acknowledged, "{}", shot.about);
    }
    assert!(named >= 2, "{named}");
}

#[test]
fn a_backup_that_fails_leaves_no_file() {
    for kind in [ErrorKind::StorageFull, ErrorKind::Other] {
        for at in 0.. {
            let root = folder();
            drop(filled(&root.path().join("data")));
            let disk = Arc::new(Failing::new(at, false, kind));
            let around = MemoryKeyring::default().around_on(disk.clone());
            let store = opened_in(&root.path().join("data"), &opener(), &around).unwrap();
            disk.begin();
            let failed = store.backup(&root.path().join("backup"), &words());
            let Some(step) = disk.end() else {
                failed.unwrap();
                assert!(at >= 5, "{at} steps");
                break;
            };
            match (kind, failed) {
                (ErrorKind::StorageFull, Err(BackupError::Full)) => {}
                (ErrorKind::Other, Err(BackupError::Disk(_))) => {}
                (_, other) => panic!("{other:?} at {step}"),
            }
            let left = fs::read_dir(root.path()).unwrap().count();
            // Only the last step comes after it has its name.
            let named = usize::from(step.starts_with("SyncFolder"));
            assert_eq!(left, 1 + named, "{step}");
            store.check().unwrap();
        }
    }
}
