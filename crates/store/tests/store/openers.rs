//! Who holds the key, and that nobody else opens the folder.

use std::fs;
use std::path::Path;
use std::process::Command;

use store::{
    Holder, Key, Keyring, OpenError, Opener, Passphrase, Store, StoreError, Surroundings,
    SystemKeyring,
};

use crate::ground::{
    MemoryKeyring, alter, contains, database_keys, database_under, files, folder, open, opened,
    opened_in, opener,
};

fn passphrase(text: &str) -> Opener {
    Opener::Passphrase(Passphrase::new(text))
}

fn key(byte: u8) -> Opener {
    Opener::Key(Key::new([byte; 32]))
}

/// With the system's own keyring.
fn really(folder: &Path, opener: &Opener) -> Result<Store, OpenError> {
    opened_in(folder, opener, &Surroundings::default())
}

/// A keyring that cannot be asked.
struct Locked;

impl Keyring for Locked {
    fn get(&self, _: &str) -> Result<Option<Vec<u8>>, String> {
        Err("the keyring is locked".into())
    }
    fn set(&self, _: &str, _: &[u8]) -> Result<(), String> {
        Err("the keyring is locked".into())
    }
    fn remove(&self, _: &str) -> Result<(), String> {
        Err("the keyring is locked".into())
    }
}

fn locked_keyring() -> Surroundings {
    Surroundings {
        keyring: std::sync::Arc::new(Locked),
        ..Surroundings::default()
    }
}

#[test]
fn each_holder_opens_the_folder_and_no_other_does() {
    let openers = [
        Opener::Keyring,
        passphrase("three herons by the weir"),
        key(1),
    ];
    for (index, opener) in openers.iter().enumerate() {
        let folder = folder();
        let keyring = MemoryKeyring::default();
        let open = |opener: &Opener| opened_in(folder.path(), opener, &keyring.around());
        assert_eq!(Store::locked_by(folder.path()).unwrap(), None);
        let store = open(opener).unwrap();
        assert_eq!(store.holder(), opener.holder());
        store.set_setting("name", b"value").unwrap();
        drop(store);
        assert_eq!(
            Store::locked_by(folder.path()).unwrap(),
            Some(opener.holder())
        );
        for (other, wrong) in openers.iter().enumerate() {
            if other != index {
                let refused = open(wrong);
                assert!(
                    matches!(refused, Err(OpenError::Unlike(holder)) if holder == opener.holder()),
                    "{refused:?}"
                );
            }
        }
        let value = open(opener).unwrap().setting("name").unwrap();
        assert_eq!(value, Some(b"value".to_vec()));
    }
}

#[test]
fn a_wrong_passphrase_or_key_opens_nothing_and_changes_nothing() {
    for (right, wrong) in [
        (
            passphrase("three herons by the weir"),
            passphrase("three herons by the wier"),
        ),
        (key(1), key(2)),
    ] {
        let folder = folder();
        drop(really(folder.path(), &right).unwrap());
        let before: Vec<_> = files(folder.path())
            .iter()
            .map(|path| fs::read(path).unwrap())
            .collect();
        let refused = really(folder.path(), &wrong);
        assert!(matches!(refused, Err(OpenError::WrongKey)), "{refused:?}");
        let after: Vec<_> = files(folder.path())
            .iter()
            .map(|path| fs::read(path).unwrap())
            .collect();
        assert_eq!(before, after);
        assert!(really(folder.path(), &right).is_ok());
    }
}

#[test]
fn a_passphrase_opens_however_a_keyboard_spells_its_letters() {
    let folder = folder();
    drop(really(folder.path(), &passphrase("caf\u{E9} cr\u{E8}me")).unwrap());
    assert!(really(folder.path(), &passphrase("cafe\u{301}\u{A0}cre\u{300}me")).is_ok());
}

#[test]
fn a_key_that_is_gone_from_the_keyring_is_said_to_be() {
    let folder = folder();
    let keyring = MemoryKeyring::default();
    drop(opened_in(folder.path(), &Opener::Keyring, &keyring.around()).unwrap());
    keyring.0.lock().unwrap().clear();
    let refused = opened_in(folder.path(), &Opener::Keyring, &keyring.around());
    assert!(matches!(refused, Err(OpenError::KeyGone)), "{refused:?}");
    // Half a key is no key.
    let name = fs::read(folder.path().join("pothook.key")).unwrap()[13..29].to_vec();
    let name: String = name.iter().map(|byte| format!("{byte:02x}")).collect();
    keyring.set(&name, &[1; 31]).unwrap();
    let refused = opened_in(folder.path(), &Opener::Keyring, &keyring.around());
    assert!(matches!(refused, Err(OpenError::WrongKey)), "{refused:?}");
}

#[test]
fn a_keyring_that_cannot_be_asked_says_why_and_no_store_is_made() {
    let folder = folder();
    let refused = Store::open_in(folder.path(), &Opener::Keyring, &locked_keyring());
    assert!(
        matches!(&refused, Err(OpenError::NoKeyring(reason)) if reason == "the keyring is locked"),
        "{refused:?}"
    );
    assert_eq!(Store::locked_by(folder.path()).unwrap(), None);
    let store = open(folder.path());
    let refused = store.change_opener(&Opener::Keyring);
    // This one asks the real keyring; where there is one, the change is made.
    match refused {
        Ok(()) => store.change_opener(&opener()).unwrap(),
        Err(error) => assert!(matches!(error, StoreError::NoKeyring(_)), "{error:?}"),
    }
    drop(store);
    assert!(opened(folder.path()).is_ok());
}

/// Run by the test below, in a process that finds no message bus.
#[test]
#[ignore = "run by another test in a process of its own"]
fn without_a_bus() {
    let folder = folder();
    let refused = really(folder.path(), &Opener::Keyring);
    assert!(
        matches!(&refused, Err(OpenError::NoKeyring(reason)) if !reason.is_empty()),
        "{refused:?}"
    );
    assert_eq!(Store::locked_by(folder.path()).unwrap(), None);
}

#[cfg(target_os = "linux")]
#[test]
fn a_system_without_a_keyring_is_told_apart_from_a_lost_key() {
    let status = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "openers::without_a_bus", "--ignored"])
        .env("DBUS_SESSION_BUS_ADDRESS", "unix:path=/nowhere/at/all")
        .status()
        .unwrap();
    assert!(status.success());
}

/// `cargo test -p store --test store with_the_systems_keyring -- --ignored`, on a desktop or under
/// `dbus-run-session` with an unlocked Secret Service.
#[test]
#[ignore = "asks the keyring of whoever runs it"]
fn with_the_systems_keyring() {
    let folder = folder();
    let opener = Opener::Keyring;
    let store = really(folder.path(), &opener).unwrap();
    store.set_setting("name", b"value").unwrap();
    store.renew_key().unwrap();
    drop(store);
    let store = really(folder.path(), &opener).unwrap();
    assert_eq!(store.setting("name").unwrap(), Some(b"value".to_vec()));
    store.change_opener(&key(1)).unwrap();
    store.change_opener(&opener).unwrap();
    store.change_opener(&key(1)).unwrap();
    drop(store);
    let refused = really(folder.path(), &opener);
    assert!(
        matches!(refused, Err(OpenError::Unlike(Holder::Key))),
        "{refused:?}"
    );
    // A folder whose entry was removed past the store.
    let other = folder.path().join("other");
    drop(really(&other, &opener).unwrap());
    let id = &fs::read(other.join("pothook.key")).unwrap()[13..29];
    let name: String = id.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(SystemKeyring.get(&name).unwrap().unwrap().len(), 32);
    SystemKeyring.remove(&name).unwrap();
    SystemKeyring.remove(&name).unwrap();
    assert_eq!(SystemKeyring.get(&name).unwrap(), None);
    let refused = really(&other, &opener);
    assert!(matches!(refused, Err(OpenError::KeyGone)), "{refused:?}");
}

#[test]
fn a_changed_opener_opens_and_the_former_does_no_more() {
    let folder = folder();
    let keyring = MemoryKeyring::default();
    let around = keyring.around();
    let openers = [
        key(1),
        passphrase("three herons by the weir"),
        Opener::Keyring,
        passphrase("and a fourth"),
        key(1),
        key(2),
        Opener::Keyring,
        Opener::Keyring,
    ];
    let mut store = opened_in(folder.path(), &openers[0], &around).unwrap();
    store.set_setting("name", b"value").unwrap();
    for pair in openers.windows(2) {
        let sealed = fs::read(folder.path().join("pothook.key")).unwrap();
        store.change_opener(&pair[1]).unwrap();
        assert_eq!(store.holder(), pair[1].holder());
        store.append(b"doc", 1, b"one").unwrap();
        drop(store);
        if pair[0].holder() != pair[1].holder() {
            let refused = opened_in(folder.path(), &pair[0], &around);
            assert!(matches!(refused, Err(OpenError::Unlike(_))), "{refused:?}");
        }
        if pair[0].holder() != Holder::Keyring {
            // What the former opened with is nowhere in the folder any more.
            for file in files(folder.path()) {
                assert!(!contains(
                    &fs::read(file).unwrap(),
                    &sealed[sealed.len() - 72..]
                ));
            }
        }
        let in_keyring = usize::from(pair[1].holder() == Holder::Keyring);
        assert_eq!(keyring.entries().len(), in_keyring);
        store = opened_in(folder.path(), &pair[1], &around).unwrap();
        assert_eq!(store.setting("name").unwrap(), Some(b"value".to_vec()));
    }
    store.change_opener(&key(1)).unwrap();
    drop(store);
    let refused = opened_in(folder.path(), &key(2), &around);
    assert!(matches!(refused, Err(OpenError::WrongKey)), "{refused:?}");
}

/// A keyring that fails while it is left: the entry goes when it can be asked again.
#[test]
fn what_a_locked_keyring_still_holds_goes_later() {
    let folder = folder();
    let keyring = MemoryKeyring::default();
    drop(opened_in(folder.path(), &Opener::Keyring, &keyring.around()).unwrap());
    // Opened while the keyring could be asked, left while it could not.
    struct Half(MemoryKeyring);
    impl Keyring for Half {
        fn get(&self, name: &str) -> Result<Option<Vec<u8>>, String> {
            self.0.get(name)
        }
        fn set(&self, _: &str, _: &[u8]) -> Result<(), String> {
            Err("locked".into())
        }
        fn remove(&self, _: &str) -> Result<(), String> {
            Err("locked".into())
        }
    }
    let half = Surroundings {
        keyring: std::sync::Arc::new(Half(keyring.clone())),
        ..Surroundings::default()
    };
    let store = opened_in(folder.path(), &Opener::Keyring, &half).unwrap();
    let refused = store.renew_key();
    assert!(
        matches!(refused, Err(StoreError::NoKeyring(_))),
        "{refused:?}"
    );
    store.change_opener(&key(1)).unwrap();
    drop(store);
    assert_eq!(keyring.entries().len(), 1);
    drop(opened_in(folder.path(), &key(1), &locked_keyring()).unwrap());
    drop(opened_in(folder.path(), &key(1), &keyring.around()).unwrap());
    assert_eq!(keyring.entries().len(), 0);
}

#[test]
fn a_database_under_another_key_is_not_taken_for_a_wrong_passphrase() {
    let (folder, other) = (folder(), tempfile::tempdir().unwrap());
    drop(open(folder.path()));
    drop(open(other.path()));
    let database = |folder: &Path| folder.join("pothook.sqlite");
    fs::copy(database(other.path()), database(folder.path())).unwrap();
    let refused = opened(folder.path());
    assert!(matches!(refused, Err(OpenError::Damaged(_))), "{refused:?}");
}

/// That the test's own way into the database is the documented one, and looks at what is there.
#[test]
fn the_tests_look_into_the_real_database() {
    let folder = folder();
    drop(open(folder.path()));
    open(folder.path()).set_setting("name", b"value").unwrap();
    alter(folder.path(), "UPDATE settings SET bytes = x'00'");
    let path = folder.path().join("pothook.sqlite");
    let database = database_under(&path, &database_keys(folder.path())[0]);
    let name: String = database
        .query_row("SELECT name FROM settings", [], |row| row.get(0))
        .unwrap();
    assert_eq!(name, "name");
}
