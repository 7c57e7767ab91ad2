//! Opening: one process at a time, and only what is ours.

use std::fs;
use std::path::Path;
use std::sync::Barrier;
use std::thread;

use store::{OpenError, Store};

use crate::child::{next_done, start};
use crate::ground::{database, files, folder, open, opened, opener};

fn plain_database(folder: &Path) -> rusqlite::Connection {
    rusqlite::Connection::open(folder.join("pothook.sqlite")).unwrap()
}

#[test]
fn a_second_opening_in_the_same_process_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let store = open(folder.path());
    assert!(matches!(
        Store::open(folder.path(), &opener()),
        Err(OpenError::InUse)
    ));
    store.set_setting("still", b"usable").unwrap();
    drop(store);
    assert!(opened(folder.path()).is_ok());
}

#[test]
fn a_second_process_is_refused_until_the_first_is_gone() {
    let folder = tempfile::tempdir().unwrap();
    let (mut child, mut out) = start("hold", folder.path());
    next_done(&mut out).expect("the process opened the folder");
    assert!(matches!(
        Store::open(folder.path(), &opener()),
        Err(OpenError::InUse)
    ));
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(opened(folder.path()).is_ok());
}

#[test]
fn a_database_held_by_another_program_is_in_use() {
    let folder = tempfile::tempdir().unwrap();
    drop(open(folder.path()));
    let other = database(folder.path());
    other
        .pragma_update(None, "locking_mode", "EXCLUSIVE")
        .unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    assert!(matches!(
        Store::open(folder.path(), &opener()),
        Err(OpenError::InUse)
    ));
}

#[test]
fn a_file_that_is_no_database_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pothook.sqlite");
    let letter = "Dear tutor, ".repeat(400);
    fs::write(&path, &letter).unwrap();
    assert!(matches!(
        opened(folder.path()),
        Err(OpenError::NotADatabase)
    ));
    assert_eq!(fs::read_to_string(&path).unwrap(), letter);
}

#[test]
fn a_log_without_its_database_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pothook.sqlite-wal");
    fs::write(&path, b"frames").unwrap();
    assert!(matches!(
        opened(folder.path()),
        Err(OpenError::NotADatabase)
    ));
    assert_eq!(fs::read(&path).unwrap(), b"frames");
}

#[test]
fn a_database_of_another_program_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    plain_database(folder.path())
        .execute_batch("CREATE TABLE recipes (name TEXT)")
        .unwrap();
    let before = fs::read(folder.path().join("pothook.sqlite")).unwrap();
    assert!(matches!(
        opened(folder.path()),
        Err(OpenError::NotADatabase)
    ));
    assert_eq!(
        fs::read(folder.path().join("pothook.sqlite")).unwrap(),
        before
    );
}

#[test]
fn a_newer_folder_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    drop(open(folder.path()));
    database(folder.path())
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let refused = opened(folder.path());
    assert!(
        matches!(refused, Err(OpenError::Newer { version: 99 })),
        "{refused:?}"
    );
}

#[test]
fn a_folder_that_cannot_be_made_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    fs::write(&file, b"").unwrap();
    assert!(matches!(
        opened(&file.join("in it")),
        Err(OpenError::Disk(_))
    ));
}

#[cfg(unix)]
#[test]
fn only_the_owner_can_read_the_folder_and_its_files() {
    use std::os::unix::fs::PermissionsExt;

    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("data").join("pothook");
    let store = opened(&inner).unwrap();
    store.set_setting("a", b"b").unwrap();
    store.put_blob(b"a photograph").unwrap();
    store.renew_key().unwrap();
    let mode = |path: &std::path::Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&inner), 0o700);
    let files = files(&inner);
    assert_eq!(files.len(), 5, "{files:?}");
    for file in files {
        assert_eq!(mode(&file), 0o600, "{file:?}");
        if file.starts_with(inner.join("blobs")) {
            assert_eq!(mode(file.parent().unwrap()), 0o700);
        }
    }
}

/// A database of the first version: SQLite's own header, the mark "Phk1" in it, not encrypted.
#[test]
fn a_folder_of_the_unencrypted_version_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    plain_database(folder.path())
        .execute_batch(
            "PRAGMA application_id = 0x50686B31; PRAGMA user_version = 1;
             CREATE TABLE settings (name TEXT NOT NULL PRIMARY KEY, bytes BLOB, sum BLOB);
             INSERT INTO settings VALUES ('name', 'value', 'sum');",
        )
        .unwrap();
    let path = folder.path().join("pothook.sqlite");
    let before = fs::read(&path).unwrap();
    let refused = opened(folder.path());
    assert!(matches!(refused, Err(OpenError::Old)), "{refused:?}");
    let refused = Store::locked_by(folder.path());
    assert!(matches!(refused, Err(OpenError::Old)), "{refused:?}");
    assert_eq!(fs::read(&path).unwrap(), before);
    assert!(!folder.path().join("pothook.key").exists());
}

#[test]
fn a_folder_without_its_key_file_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    open(folder.path()).put_blob(b"a photograph").unwrap();
    let before = files(folder.path());
    fs::remove_file(folder.path().join("pothook.key")).unwrap();
    let refused = opened(folder.path());
    assert!(matches!(refused, Err(OpenError::KeyGone)), "{refused:?}");
    assert_eq!(files(folder.path()).len(), before.len() - 1);
}

#[test]
fn a_folder_whose_database_is_gone_is_not_taken_for_a_new_one() {
    let folder = tempfile::tempdir().unwrap();
    open(folder.path()).set_setting("a", b"b").unwrap();
    for empty in [false, true] {
        let path = folder.path().join("pothook.sqlite");
        fs::remove_file(&path).unwrap();
        if empty {
            fs::write(&path, b"").unwrap();
        }
        let refused = opened(folder.path());
        assert!(matches!(refused, Err(OpenError::Damaged(_))), "{refused:?}");
        fs::write(&path, b"").unwrap();
    }
}

#[test]
fn half_a_database_from_a_renewal_is_removed() {
    let folder = tempfile::tempdir().unwrap();
    drop(open(folder.path()));
    let half = folder.path().join("pothook.sqlite.new");
    fs::write(&half, b"half").unwrap();
    open(folder.path()).renew_key().unwrap();
    assert!(!half.exists());
    fs::write(&half, b"half").unwrap();
    drop(open(folder.path()));
    assert!(!half.exists());
}

/// What others put beside the blobs is not swept with what was left over.
#[test]
fn only_left_over_blob_files_are_swept() {
    let folder = tempfile::tempdir().unwrap();
    let store = open(folder.path());
    let id = store.put_blob(b"a photograph").unwrap();
    drop(store);
    let kept = files(&folder.path().join("blobs"));
    let leaf = |name: &str| folder.path().join("blobs").join(name);
    fs::create_dir_all(leaf("ab")).unwrap();
    let orphan = leaf("ab").join("ab00112233445566778899aabbccddee");
    let foreign = [
        leaf("notes.txt"),
        leaf("ab").join("AB00112233445566778899AABBCCDDEE"),
        leaf("ab").join("cd00112233445566778899aabbccddee"),
        leaf("ab").join("ab0011"),
    ];
    for path in foreign.iter().chain([&orphan]) {
        fs::write(path, b"left").unwrap();
    }
    let store = open(folder.path());
    assert!(!orphan.exists());
    assert!(foreign.iter().all(|path| path.exists()));
    assert!(kept.iter().all(|path| path.exists()));
    assert_eq!(store.blob(id).unwrap(), Some(b"a photograph".to_vec()));
}

/// What a process that has opened nothing yet does: it opens every folder in that one at the same
/// moment.
pub fn open_all_at_once(root: &Path) -> u64 {
    let folders: Vec<_> = fs::read_dir(root)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    let together = Barrier::new(folders.len());
    thread::scope(|threads| {
        for folder in &folders {
            threads.spawn(|| {
                together.wait();
                drop(open(folder));
            });
        }
    });
    folders.len() as u64
}

#[test]
fn the_first_folders_of_a_process_may_be_opened_at_once() {
    let root = folder();
    for name in ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "l"] {
        drop(open(&root.path().join(name)));
    }
    for _ in 0..100 {
        let (child, mut out) = start("open", root.path());
        assert_eq!(next_done(&mut out), Some(12));
        assert!(child.wait_with_output().unwrap().status.success());
    }
}
