//! A folder with a little of everything, on which work is cut short or fails at each of its steps.

use std::fmt::Debug;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;

use store::{Opener, Store, StoreError};

use crate::child::filling;
use crate::faults::{Failing, PowerCuts, Shot};
use crate::ground::{
    Content, MemoryKeyring, assert_tidy, content, copy_folder, folder, id_of, opened_in,
};

pub const SETTINGS: [&str; 3] = ["kept", "set", "removed"];

/// A folder with a little of everything, and its keyring.
pub struct Scene {
    pub folder: tempfile::TempDir,
    pub keyring: MemoryKeyring,
    pub before: Content,
}

impl Scene {
    pub fn new(opener: &Opener) -> Self {
        Self::with(opener, |store| {
            for seq in 1..=3 {
                store.append(b"kept", seq, &filling(seq, 5_000)).unwrap();
                store.append(b"removed", seq, &filling(seq, 300)).unwrap();
            }
            store.put_blob(&filling(20, 70_000)).unwrap();
            store.put_blob(&filling(21, 3_000)).unwrap();
        })
    }

    /// A folder with two settings and nothing else but what is put there.
    pub fn with(opener: &Opener, put: impl FnOnce(&Store)) -> Self {
        let folder = folder();
        let keyring = MemoryKeyring::default();
        let store = opened_in(&folder.path().join("data"), opener, &keyring.around()).unwrap();
        put(&store);
        store.set_setting("kept", b"value").unwrap();
        store.set_setting("removed", b"value").unwrap();
        let before = content(&store, &SETTINGS);
        drop(store);
        Self {
            folder,
            keyring,
            before,
        }
    }

    /// A copy of the folder to work on.
    pub fn copy(&self) -> (tempfile::TempDir, MemoryKeyring) {
        let copy = folder();
        copy_folder(&self.folder.path().join("data"), &copy.path().join("data"));
        (copy, self.keyring.copy())
    }

    /// What a power cut leaves at each step of the work.
    pub fn cut<T, E: Debug>(
        &self,
        opener: &Opener,
        work: impl Fn(&Store) -> Result<T, E>,
    ) -> Vec<Shot> {
        let (folder, keyring) = self.copy();
        let path = folder.path().join("data");
        let disk = Arc::new(PowerCuts::new(&path, &keyring));
        let store = opened_in(&path, opener, &keyring.around_on(disk.clone())).unwrap();
        disk.begin();
        work(&store).unwrap();
        disk.end()
    }

    /// Lets each step of the work fail in turn, once or for good, for two reasons. What should be so
    /// afterwards is asked of `then`: the folder, its keyring, and whether the work was acknowledged.
    pub fn fail<T>(
        &self,
        opener: &Opener,
        work: impl Fn(&Store) -> Result<T, StoreError>,
        then: impl Fn(&Path, &MemoryKeyring, bool, &str),
    ) {
        let mut failures = 0;
        for (kind, for_ever) in [
            (ErrorKind::StorageFull, false),
            (ErrorKind::Other, false),
            (ErrorKind::Other, true),
        ] {
            for at in 0.. {
                let (folder, keyring) = self.copy();
                let path = folder.path().join("data");
                let disk = Arc::new(Failing::new(at, for_ever, kind));
                let store = opened_in(&path, opener, &keyring.around_on(disk.clone())).unwrap();
                disk.begin();
                let done = work(&store).map(drop);
                let Some(step) = disk.end() else {
                    done.unwrap();
                    break;
                };
                failures += 1;
                let about = format!("{kind:?} at {step}, for ever: {for_ever}");
                match &done {
                    Err(StoreError::Full) => assert_eq!(kind, ErrorKind::StorageFull, "{about}"),
                    Err(StoreError::Disk(_) | StoreError::NoKeyring(_)) | Ok(()) => {}
                    other => panic!("{other:?}: {about}"),
                }
                match store.check() {
                    // What failed is done on the second try.
                    Ok(()) => work(&store)
                        .map(drop)
                        .unwrap_or_else(|error| panic!("{error:?}: {about}")),
                    Err(StoreError::Closed) => {}
                    Err(error) => panic!("{error:?}: {about}"),
                }
                let retried = store.check().is_ok();
                drop(store);
                then(&path, &keyring, retried || done.is_ok(), &about);
            }
        }
        assert!(failures > 3, "{failures} failures");
    }
}

/// What is there after a cut is what was before, or what should be after; and the folder goes on.
pub fn assert_whole(shots: &[Shot], opener: &Opener, before: &Content, after: &Content) {
    let mut done = false;
    for shot in shots {
        let found = found(&shot.path(), opener, &shot.keyring, &shot.about);
        assert!(found == *before || found == *after, "{}", shot.about);
        // Once done, it stays so, and what was acknowledged survives the worst.
        if done && !shot.lossy || shot.acknowledged {
            assert!(found == *after, "{}", shot.about);
        }
        done |= !shot.lossy && found == *after;
    }
    println!("{} cuts", shots.len());
}

/// Opens the folder twice, writing in between, and hands back what it held.
pub fn found(folder: &Path, opener: &Opener, keyring: &MemoryKeyring, about: &str) -> Content {
    let open = || {
        opened_in(folder, opener, &keyring.around())
            .unwrap_or_else(|error| panic!("{error:?}: {about}"))
    };
    let store = open();
    let found = content(&store, &SETTINGS);
    assert_tidy(folder, &store);
    store.put_blob(b"and it goes on").unwrap();
    drop(store);
    let store = open();
    assert!(
        store.remove_blob(id_of(b"and it goes on")).unwrap(),
        "{about}"
    );
    assert_eq!(content(&store, &SETTINGS), found, "{about}");
    found
}
