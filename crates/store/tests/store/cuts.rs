//! Every piece of work that is more than one step, cut short or failing at every one of its steps:
//! afterwards there is what was before, or what should be after, and never anything else.

use std::io::ErrorKind;
use std::sync::Arc;

use store::{Opener, Store, StoreError, Write};

use crate::backup::{with_little_work, words};
use crate::child::filling;
use crate::faults::{Failing, PowerCuts};
use crate::ground::{Content, MemoryKeyring, content, folder, id_of, opened_in, opener};
use crate::scene::{SETTINGS, Scene, assert_whole, found};

fn a_bit_of_everything() -> Vec<Write> {
    let change = |doc: &[u8], seq| Write::Change {
        doc: doc.to_vec(),
        seq,
        bytes: filling(seq, 900),
    };
    vec![
        change(b"kept", 4),
        Write::Blob(filling(22, 140_000)),
        Write::RemoveDoc(b"removed".to_vec()),
        Write::Blob(filling(23, 10)),
        change(b"new", 1),
        Write::RemoveBlob(id_of(&filling(21, 3_000))),
        Write::Setting {
            name: "set".into(),
            bytes: b"new".to_vec(),
        },
        Write::RemoveSetting("removed".into()),
    ]
}

fn after(scene: &Scene, opener: &Opener, work: impl Fn(&Store)) -> Content {
    let (folder, keyring) = scene.copy();
    let path = folder.path().join("data");
    let store = opened_in(&path, opener, &keyring.around()).unwrap();
    work(&store);
    content(&store, &SETTINGS)
}

/// Work is whole wherever it is cut short, and whichever of its steps fails.
fn stays_whole(
    scene: &Scene,
    opener: &Opener,
    after: &Content,
    work: impl Fn(&Store) -> Result<(), StoreError>,
) {
    let shots = scene.cut(opener, &work);
    assert!(shots.len() > 20);
    assert_whole(&shots, opener, &scene.before, after);
    scene.fail(opener, &work, |path, keyring, done, about| {
        let found = found(path, opener, keyring, about);
        assert!(found == *after || !done && found == scene.before, "{about}");
    });
}

#[test]
fn a_transaction_is_whole_wherever_it_is_cut_or_fails() {
    let opener = opener();
    let scene = Scene::new(&opener);
    let work = |store: &Store| store.transaction(a_bit_of_everything());
    let after = after(&scene, &opener, |store| work(store).unwrap());
    assert_ne!(after, scene.before);
    stays_whole(&scene, &opener, &after, work);
}

#[test]
fn a_blob_and_its_parts_are_whole_wherever_they_are_cut() {
    let opener = opener();
    let scene = Scene::new(&opener);
    let photo = filling(40, 90_000);
    let id = id_of(&photo);
    let work = |store: &Store| {
        store.keep_part(id, 0, &photo[..50_000])?;
        store.keep_part(id, 50_000, &photo[50_000..])?;
        store.put_blob_as(id, &photo)
    };
    let after = after(&scene, &opener, |store| work(store).unwrap());
    let shots = scene.cut(&opener, work);
    for shot in &shots {
        let store = opened_in(&shot.path(), &opener, &shot.keyring.around()).unwrap();
        let part = store.part(id).unwrap();
        // Either the part or the whole, and of the part the first so many bytes.
        assert!(
            part.is_none() || !store.has_blob(id).unwrap(),
            "{}",
            shot.about
        );
        assert!(
            photo.starts_with(&part.unwrap_or_default()),
            "{}",
            shot.about
        );
    }
    assert_whole(&shots, &opener, &scene.before, &after);
}

#[test]
fn a_blob_made_ready_before_is_whole_wherever_it_is_cut_or_fails() {
    let opener = opener();
    let scene = Scene::new(&opener);
    let photo = filling(40, 150_000);
    let id = id_of(&photo);
    let work = |store: &Store| {
        let ready = store.ready(id, photo.clone())?;
        store.keep_ready(ready, a_bit_of_everything())
    };
    let after = after(&scene, &opener, |store| work(store).unwrap());
    let without = self::after(&scene, &opener, |store| {
        store.transaction(a_bit_of_everything()).unwrap();
    });
    assert_ne!(after, without);
    stays_whole(&scene, &opener, &after, work);
}

#[test]
fn a_first_opening_is_whole_wherever_it_is_cut() {
    let opener = opener();
    let folder = folder();
    let path = folder.path().join("data");
    let keyring = MemoryKeyring::default();
    let disk = Arc::new(PowerCuts::new(&path, &keyring));
    disk.begin();
    drop(opened_in(&path, &opener, &keyring.around_on(disk.clone())).unwrap());
    let shots = disk.end();
    assert!(shots.len() > 20);
    let nothing = Content {
        settings: vec![None; 3],
        ..Content::default()
    };
    assert_whole(&shots, &opener, &nothing, &nothing);
}

#[test]
fn a_restoring_is_whole_wherever_it_is_cut_or_fails() {
    let opener = opener();
    let scene = Scene::new(&opener);
    let (work, keyring) = scene.copy();
    let backup = work.path().join("backup");
    let store = opened_in(&work.path().join("data"), &opener, &keyring.around()).unwrap();
    store.backup(&backup, &words()).unwrap();
    with_little_work(&backup);
    drop(store);
    let nothing = Content {
        settings: vec![None; 3],
        ..Content::default()
    };

    let target = folder();
    let path = target.path().join("data");
    let disk = Arc::new(PowerCuts::new(&path, &keyring));
    disk.begin();
    let around = keyring.around_on(disk.clone());
    Store::restore_in(&backup, &words(), &path, &opener, &around).unwrap();
    let shots = disk.end();
    assert!(shots.len() > 40);
    for shot in &shots {
        // Without a key file there is no store.
        let has_store = shot.path().is_dir() && Store::locked_by(&shot.path()).unwrap().is_some();
        let found = found(&shot.path(), &opener, &shot.keyring, &shot.about);
        let expected = if has_store { &scene.before } else { &nothing };
        assert_eq!(found, *expected, "{}", shot.about);
        assert!(has_store || !shot.acknowledged, "{}", shot.about);
    }
    println!("{} cuts", shots.len());

    let mut failures = 0;
    for at in 0.. {
        let target = folder();
        let path = target.path().join("data");
        let disk = Arc::new(Failing::new(at / 2, at % 2 == 0, ErrorKind::Other));
        disk.begin();
        let around = keyring.around_on(disk.clone());
        let restored = Store::restore_in(&backup, &words(), &path, &opener, &around);
        let Some(step) = disk.end() else {
            restored.unwrap();
            break;
        };
        failures += 1;
        let has_store = path.is_dir() && Store::locked_by(&path).unwrap().is_some();
        assert!(has_store || restored.is_err(), "{step}");
        drop(restored);
        let found = found(&path, &opener, &keyring, &step);
        let expected = if has_store { &scene.before } else { &nothing };
        assert_eq!(found, *expected, "{step}");
    }
    println!("{failures} failures");
    assert!(failures > 20, "{failures} failures");
}
