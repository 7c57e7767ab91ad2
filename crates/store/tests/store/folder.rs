//! Opening: one process at a time, and only what is ours.

use std::fs;

use store::{OpenError, Store};

use crate::child::{next_done, start};

fn database(folder: &std::path::Path) -> rusqlite::Connection {
    rusqlite::Connection::open(folder.join("pothook.sqlite")).unwrap()
}

#[test]
fn a_second_opening_in_the_same_process_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    assert!(matches!(Store::open(folder.path()), Err(OpenError::InUse)));
    store.set_setting("still", b"usable").unwrap();
    drop(store);
    assert!(Store::open(folder.path()).is_ok());
}

#[test]
fn a_second_process_is_refused_until_the_first_is_gone() {
    let folder = tempfile::tempdir().unwrap();
    let (mut child, mut out) = start("hold", folder.path());
    next_done(&mut out).expect("the process opened the folder");
    assert!(matches!(Store::open(folder.path()), Err(OpenError::InUse)));
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(Store::open(folder.path()).is_ok());
}

#[test]
fn a_database_held_by_another_program_is_in_use() {
    let folder = tempfile::tempdir().unwrap();
    drop(Store::open(folder.path()).unwrap());
    let other = database(folder.path());
    other
        .pragma_update(None, "locking_mode", "EXCLUSIVE")
        .unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    assert!(matches!(Store::open(folder.path()), Err(OpenError::InUse)));
}

#[test]
fn a_file_that_is_no_database_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pothook.sqlite");
    let letter = "Dear tutor, ".repeat(400);
    fs::write(&path, &letter).unwrap();
    assert!(matches!(
        Store::open(folder.path()),
        Err(OpenError::NotADatabase)
    ));
    assert_eq!(fs::read_to_string(&path).unwrap(), letter);
}

#[test]
fn a_database_of_another_program_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    database(folder.path())
        .execute_batch("CREATE TABLE recipes (name TEXT)")
        .unwrap();
    let before = fs::read(folder.path().join("pothook.sqlite")).unwrap();
    assert!(matches!(
        Store::open(folder.path()),
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
    drop(Store::open(folder.path()).unwrap());
    database(folder.path())
        .pragma_update(None, "user_version", 99)
        .unwrap();
    let refused = Store::open(folder.path());
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
        Store::open(&file.join("in it")),
        Err(OpenError::Disk(_))
    ));
}

#[cfg(unix)]
#[test]
fn only_the_owner_can_read_the_folder_and_its_files() {
    use std::os::unix::fs::PermissionsExt;

    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("data").join("pothook");
    let store = Store::open(&inner).unwrap();
    store.set_setting("a", b"b").unwrap();
    let mode = |path: &std::path::Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&inner), 0o700);
    for file in fs::read_dir(&inner).unwrap() {
        let file = file.unwrap().path();
        assert_eq!(mode(&file), 0o600, "{file:?}");
    }
}
