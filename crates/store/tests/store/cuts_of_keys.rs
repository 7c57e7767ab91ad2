//! Renewals and changes of the opener, cut short or failing at every one of their steps.

use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;

use store::{Holder, Key, OpenError, Opener, Passphrase, Store, Surroundings};

use crate::faults::{Failing, PowerCuts};
use crate::ground::{
    MemoryKeyring, assert_tidy, content, database_keys, database_under, opened_in, opener,
};
use crate::scene::{SETTINGS, Scene, found};

/// Besides what is in the folder: the key that it is under.
fn assert_renewed(folder: &Path, old: &[u8; 32], new: &[u8], about: &str) {
    assert_eq!(new.len(), 32, "one key: {about}");
    assert_ne!(new, old, "{about}");
    let database = database_under(&folder.join("pothook.sqlite"), old);
    let read = database.query_row("SELECT count(*) FROM settings", [], |row| {
        row.get::<_, i64>(0)
    });
    assert!(read.is_err(), "{about}");
}

#[test]
fn a_renewal_is_whole_wherever_it_is_cut_or_fails() {
    let opener = opener();
    let scene = Scene::new(&opener);
    let old = database_keys(&scene.folder.path().join("data"))[0];
    let shots = scene.cut(&opener, Store::renew_key);
    assert!(shots.len() > 40);
    let mut begun = false;
    for shot in &shots {
        let found = found(&shot.path(), &opener, &shot.keyring, &shot.about);
        assert_eq!(found, scene.before, "{}", shot.about);
        let keys = database_keys(&shot.path());
        assert_eq!(keys.len(), 1, "{}", shot.about);
        // From where the next key was kept, the renewal is made at the latest by the opening.
        begun |= !shot.lossy && keys[0] != old;
        if keys[0] != old || begun && !shot.lossy || shot.acknowledged {
            assert_renewed(&shot.path(), &old, &keys[0], &shot.about);
        }
    }
    assert!(begun);
    println!("{} cuts", shots.len());
    scene.fail(&opener, Store::renew_key, |path, keyring, done, about| {
        assert_eq!(found(path, &opener, keyring, about), scene.before);
        let keys = database_keys(path);
        if done {
            assert_renewed(path, &old, &keys.concat(), about);
        }
    });
}

#[test]
fn a_renewal_under_the_keyring_is_whole_wherever_it_is_cut_or_fails() {
    let opener = Opener::Keyring;
    let scene = Scene::new(&opener);
    let secret = |keyring: &MemoryKeyring| -> Vec<u8> {
        let entries = keyring.entries();
        assert_eq!(entries.len(), 1);
        entries.into_values().next().unwrap()
    };
    let old: [u8; 32] = secret(&scene.keyring).try_into().unwrap();
    for shot in scene.cut(&opener, Store::renew_key) {
        let found = found(&shot.path(), &opener, &shot.keyring, &shot.about);
        assert_eq!(found, scene.before, "{}", shot.about);
        let key = secret(&shot.keyring);
        assert_eq!(key.len(), 32, "{}", shot.about);
        if shot.acknowledged {
            assert_renewed(&shot.path(), &old, &key, &shot.about);
        }
    }
    scene.fail(&opener, Store::renew_key, |path, keyring, done, about| {
        assert_eq!(found(path, &opener, keyring, about), scene.before);
        if done {
            assert_renewed(path, &old, &secret(keyring), about);
        }
    });
}

/// An opening that finishes a renewal opens all the same where it cannot.
#[test]
fn a_folder_opens_even_where_a_renewal_cannot_be_finished() {
    let opener = opener();
    let scene = Scene::new(&opener);
    for (index, shot) in scene.cut(&opener, Store::renew_key).into_iter().enumerate() {
        let path = shot.path();
        let disk = Arc::new(Failing::new(index % 4, true, ErrorKind::StorageFull));
        disk.begin();
        let opened = opened_in(&path, &opener, &shot.keyring.around_on(disk.clone()));
        disk.end();
        match opened {
            Ok(store) => assert_eq!(content(&store, &SETTINGS), scene.before, "{}", shot.about),
            // The folder's names must be on the disk before anything is written under them.
            Err(error) => assert!(
                matches!(error, OpenError::Full),
                "{error:?}: {}",
                shot.about
            ),
        }
        let found = found(&path, &opener, &shot.keyring, &shot.about);
        assert_eq!(found, scene.before, "{}", shot.about);
    }
}

/// An opening that finishes a renewal is itself cut at every step.
#[test]
fn the_opening_after_a_cut_may_be_cut_as_well() {
    let opener = opener();
    let scene = Scene::new(&opener);
    let mut cuts = 0;
    for first in scene.cut(&opener, Store::renew_key).into_iter().step_by(9) {
        let path = first.path();
        let disk = Arc::new(PowerCuts::new(&path, &first.keyring));
        disk.begin();
        drop(opened_in(&path, &opener, &first.keyring.around_on(disk.clone())).unwrap());
        for shot in disk.end() {
            let about = format!("{}, then {}", first.about, shot.about);
            assert_eq!(
                found(&shot.path(), &opener, &shot.keyring, &about),
                scene.before
            );
            assert_eq!(database_keys(&shot.path()).len(), 1, "{about}");
            cuts += 1;
        }
    }
    println!("{cuts} second cuts");
    assert!(cuts > 50, "{cuts}");
}

/// Which of the two opens the folder; exactly one of them must. `look` sees the open store.
fn which_opens(
    folder: &Path,
    openers: [&Opener; 2],
    around: &Surroundings,
    about: &str,
    look: impl Fn(&Store),
) -> usize {
    let holder = Store::locked_by(folder).unwrap().unwrap();
    let mut found = Vec::new();
    for (which, opener) in openers.into_iter().enumerate() {
        match opened_in(folder, opener, around) {
            Ok(store) => {
                assert_eq!(opener.holder(), holder, "{about}");
                look(&store);
                found.push(which);
            }
            Err(OpenError::WrongKey) => assert_eq!(opener.holder(), holder, "{about}"),
            Err(OpenError::Unlike(other)) => {
                assert_eq!(other, holder, "{about}");
                assert_ne!(opener.holder(), holder, "{about}");
            }
            Err(error) => panic!("{error:?}: {about}"),
        }
    }
    assert_eq!(found.len(), 1, "{about}");
    found[0]
}

#[test]
fn a_change_of_opener_is_whole_wherever_it_is_cut_or_fails() {
    let key = |byte| Opener::Key(Key::new([byte; 32]));
    let passphrase = Opener::Passphrase(Passphrase::new("three herons by the weir"));
    for (from, to) in [
        (key(1), key(2)),
        (key(1), Opener::Keyring),
        (Opener::Keyring, key(2)),
        (key(1), passphrase),
    ] {
        let scene = Scene::new(&from);
        let work = |store: &Store| store.change_opener(&to);
        let asked = |path: &Path, keyring: &MemoryKeyring, about: &str| {
            let look = |store: &Store| {
                assert_eq!(content(store, &SETTINGS), scene.before, "{about}");
                assert_tidy(path, store);
                // The keyring holds something exactly where it is the holder.
                let held = keyring.entries().len();
                assert_eq!(
                    held,
                    usize::from(store.holder() == Holder::Keyring),
                    "{about}"
                );
            };
            which_opens(path, [&from, &to], &keyring.around(), about, look) == 1
        };
        let mut done = false;
        let shots = scene.cut(&from, work);
        for shot in &shots {
            let now = asked(&shot.path(), &shot.keyring, &shot.about);
            assert!(now || shot.lossy || !done, "{}", shot.about);
            assert!(now || !shot.acknowledged, "{}", shot.about);
            done |= now && !shot.lossy;
        }
        println!("{} cuts", shots.len());
        // A passphrase goes the same way as a key, and takes a while.
        if to.holder() != Holder::Passphrase {
            scene.fail(&from, work, |path, keyring, acknowledged, about| {
                let now = asked(path, keyring, about);
                assert!(now || !acknowledged, "{about}");
            });
        }
    }
}
