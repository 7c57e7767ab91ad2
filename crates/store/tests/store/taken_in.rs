//! Backups that are brought into a store that is open and has nothing in it yet.

use std::fs;

use store::{BackupError, Opener, Store, StoreError, Write};

use crate::backup::{filled, with_little_work, words};
use crate::ground::{Content, assert_tidy, content, folder, open, opener};
use crate::scene::{SETTINGS, Scene, assert_whole, found};

/// Settings as they are, but for one that is left out and one that gets another name.
fn setting(name: &str, bytes: &[u8]) -> Option<(String, Vec<u8>)> {
    match name {
        "empty" => None,
        "name" => Some(("set".to_owned(), bytes.to_vec())),
        name => Some((name.to_owned(), bytes.to_vec())),
    }
}

#[test]
fn a_store_with_nothing_in_it_takes_a_backup_in() {
    let folder = folder();
    let (store, held) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    let written = store.backup(&file, &words()).unwrap();
    let path = folder.path().join("new");
    let new = open(&path);
    for name in SETTINGS {
        new.set_setting(name, b"of the new one").unwrap();
    }
    let taken = new.take_in(&file, &words(), "kept", &setting).unwrap();
    assert_eq!(taken, written);
    let expected = Content {
        settings: vec![
            Some(b"of the new one".to_vec()),
            Some(b"value".to_vec()),
            None,
        ],
        ..held
    };
    assert_eq!(content(&new, &SETTINGS), expected);
    assert_eq!(new.settings_under("").unwrap(), ["kept", "set"]);
    new.append(b"a", 8, b"and it goes on").unwrap();
    drop(new);
    let new = open(&path);
    assert_eq!(new.changes(b"a", 8..).unwrap().len(), 1);
    assert_tidy(&path, &new);
}

#[test]
fn what_a_store_holds_is_never_mixed_with_a_backup() {
    let folder = folder();
    let (store, _) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    store.backup(&file, &words()).unwrap();
    let change = Write::Change {
        doc: b"b".to_vec(),
        seq: 3,
        bytes: b"written here".to_vec(),
    };
    for (name, write) in [("change", change), ("blob", Write::Blob(b"here".to_vec()))] {
        let path = folder.path().join(name);
        let store = open(&path);
        store.transaction(vec![write]).unwrap();
        store.set_setting("kept", b"value").unwrap();
        let before = content(&store, &SETTINGS);
        let refused = store.take_in(&file, &words(), "kept", &setting);
        assert!(
            matches!(refused, Err(BackupError::StoreThere)),
            "{refused:?}"
        );
        assert_eq!(content(&store, &SETTINGS), before);
        assert_tidy(&path, &store);
    }
}

#[test]
fn a_taking_in_is_whole_wherever_it_is_cut_or_fails() {
    let opener: Opener = opener();
    let folder = folder();
    let (store, held) = filled(&folder.path().join("data"));
    let file = folder.path().join("backup");
    store.backup(&file, &words()).unwrap();
    with_little_work(&file);
    let scene = Scene::with(&opener, |_| {});
    let work = |store: &Store| store.take_in(&file, &words(), "kept", &setting);
    let after = Content {
        settings: vec![Some(b"value".to_vec()), Some(b"value".to_vec()), None],
        ..held
    };
    let shots = scene.cut(&opener, work);
    assert!(shots.len() > 20, "{}", shots.len());
    assert_whole(&shots, &opener, &scene.before, &after);
    let again = |store: &Store| match work(store) {
        // The first try failed after all was on the disk.
        Ok(_) | Err(BackupError::StoreThere) => Ok(()),
        Err(BackupError::Store(error)) => Err(error),
        Err(BackupError::Full) => Err(StoreError::Full),
        Err(BackupError::Disk(reason)) => Err(StoreError::Disk(reason)),
        Err(other) => panic!("{other:?}"),
    };
    scene.fail(&opener, again, |path, keyring, done, about| {
        let found = found(path, &opener, keyring, about);
        assert!(found == after || !done && found == scene.before, "{about}");
    });
    // Nor does one that turns out to be damaged at its very end leave anything.
    let whole = fs::read(&file).unwrap();
    fs::write(&file, &whole[..whole.len() - 1]).unwrap();
    let path = folder.path().join("new");
    let new = open(&path);
    new.set_setting("removed", b"value").unwrap();
    let refused = new.take_in(&file, &words(), "kept", &setting);
    assert!(
        matches!(refused, Err(BackupError::Damaged(_))),
        "{refused:?}"
    );
    assert_eq!(new.settings_under("").unwrap(), ["removed"]);
    assert_tidy(&path, &new);
}
