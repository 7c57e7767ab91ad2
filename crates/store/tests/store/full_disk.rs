//! A truly full disk: a small file system in memory, where the test may mount one.

use std::fs;
use std::path::Path;
use std::process::Command;

use store::{Store, StoreError};

use crate::child::filling;
use crate::ground::{blob_files, id_of, open};

/// A mounted file system of 4 MiB, taken down at the end.
struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    fn mount() -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=4m", "tmpfs"])
            .arg(folder.path())
            .output();
        let mounted = mounted.is_ok_and(|output| output.status.success());
        mounted.then_some(Self(folder))
    }

    fn path(&self) -> &Path {
        self.0.path()
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let unmounted = Command::new("umount").arg(self.path()).status();
        debug_assert!(unmounted.is_ok_and(|status| status.success()));
    }
}

#[test]
fn a_full_disk_says_so_and_loses_nothing() {
    let Some(disk) = SmallDisk::mount() else {
        println!("skipped: this user may not mount a file system");
        return;
    };
    let filler = disk.path().join("filler");
    fs::write(&filler, vec![0; 600_000]).unwrap();
    let folder = disk.path().join("data");
    let store = open(&folder);
    let mut kept = 0_u64;
    let refused = loop {
        match store.append(b"doc", kept + 1, &filling(kept + 1, 30_000)) {
            Ok(new) => assert!(new),
            Err(error) => break error,
        }
        kept += 1;
        assert!(kept < 200, "the disk never filled");
    };
    assert!(matches!(refused, StoreError::Full), "{refused:?}");
    assert!(kept > 10);
    all_there(&store, kept);
    drop(store);

    let store = open(&folder);
    all_there(&store, kept);
    fs::remove_file(filler).unwrap();
    assert!(
        store
            .append(b"doc", kept + 1, &filling(kept + 1, 30_000))
            .unwrap()
    );
    all_there(&store, kept + 1);
    println!("{kept} changes before the disk was full, none lost");
}

fn all_there(store: &Store, count: u64) {
    let changes = store.changes(b"doc", 0..).unwrap();
    assert_eq!(changes.len() as u64, count);
    for (seq, bytes) in changes {
        assert_eq!(bytes, filling(seq, 30_000));
    }
    store.check().unwrap();
}

#[test]
fn a_blob_that_finds_no_room_leaves_nothing_behind() {
    let Some(disk) = SmallDisk::mount() else {
        println!("skipped: this user may not mount a file system");
        return;
    };
    let folder = disk.path().join("data");
    let store = open(&folder);
    let small = filling(1, 200_000);
    store.put_blob(&small).unwrap();
    let large = filling(2, 4_500_000);
    for _ in 0..3 {
        let refused = store.put_blob(&large);
        assert!(matches!(refused, Err(StoreError::Full)), "{refused:?}");
        assert_eq!(blob_files(&folder).len(), 1);
    }
    assert!(!store.has_blob(id_of(&large)).unwrap());
    store.put_blob(&filling(3, 1_000_000)).unwrap();
    assert_eq!(store.blob(id_of(&small)).unwrap(), Some(small));
    store.check().unwrap();
}

#[test]
fn a_renewal_that_finds_no_room_leaves_the_folder_as_it_was() {
    let Some(disk) = SmallDisk::mount() else {
        println!("skipped: this user may not mount a file system");
        return;
    };
    let folder = disk.path().join("data");
    let store = open(&folder);
    for seq in 1..=50 {
        store.append(b"doc", seq, &filling(seq, 30_000)).unwrap();
    }
    let filler = disk.path().join("filler");
    fs::write(&filler, vec![0; 1_000_000]).unwrap();
    let refused = store.renew_key();
    assert!(matches!(refused, Err(StoreError::Full)), "{refused:?}");
    all_there(&store, 50);
    drop(store);
    // Tried again at the opening, in vain once more.
    let store = open(&folder);
    all_there(&store, 50);
    fs::remove_file(filler).unwrap();
    store.renew_key().unwrap();
    all_there(&store, 50);
    assert!(!folder.join("pothook.sqlite.new").exists());
    drop(store);
    all_there(&open(&folder), 50);
}
