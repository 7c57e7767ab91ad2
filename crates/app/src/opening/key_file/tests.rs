//! Key files made, cut short, missing, and of another folder.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use store::{Key, Keyring, Opener, Surroundings};
use units::{Problem, Role};

use crate::api::{Nothing, Settle};
use crate::device::locked;
use crate::{App, Opening, key_file};

fn key(opener: &Opener) -> &Key {
    let Opener::Key(key) = opener else {
        panic!("{opener:?}");
    };
    key
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let names = entries.map(|entry| entry.expect("an entry").file_name());
    let mut names: Vec<_> = names
        .map(|name| name.into_string().expect("a name"))
        .collect();
    names.sort();
    names
}

/// A folder with a place for a drive and one for the data.
fn desk() -> (tempfile::TempDir, PathBuf, PathBuf) {
    let desk = tempfile::tempdir().expect("a folder");
    let drive = desk.path().join("drive");
    fs::create_dir(&drive).expect("a folder");
    let (key, data) = (drive.join("pothook.key"), desk.path().join("data"));
    (desk, key, data)
}

/// Opens the data and says what this device is called there; a new one becomes the study.
fn opened(folder: &Path, path: &Path) -> Result<String, Problem> {
    let app = App::open_with(Opening::with_key_file(folder, path)?)?;
    if app.overview(Nothing {})?.device.is_none() {
        let (role, name) = (Role::Tutor, "Study".to_owned());
        app.settle(Settle { role, name })?;
    }
    Ok(app.overview(Nothing {})?.device.expect("settled").name)
}

#[test]
fn a_key_file_is_made_once_and_is_its_owner_s_alone() {
    let (_desk, path, _) = desk();
    let first = key_file(&path).expect("made");
    let bytes = fs::read(&path).expect("a file");
    assert_eq!(bytes.len(), 32);
    assert!(bytes != [0; 32]);
    let again = key_file(&path).expect("read");
    assert!(key(&first) == key(&again));
    assert_eq!(names(path.parent().expect("a folder")), ["pothook.key"]);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(&path).expect("a file").permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
}

#[test]
fn all_who_make_a_key_file_at_once_get_the_same() {
    for _ in 0..20 {
        let (_desk, path, _) = desk();
        let all: Vec<Opener> = std::thread::scope(|threads| {
            let makers: Vec<_> = (0..8).map(|_| threads.spawn(|| key_file(&path))).collect();
            let made = makers.into_iter().map(|maker| maker.join().expect("ended"));
            made.map(|made| made.expect("made")).collect()
        });
        assert!(all.iter().all(|opener| key(opener) == key(&all[0])));
        assert_eq!(names(path.parent().expect("a folder")), ["pothook.key"]);
    }
}

#[test]
fn what_a_making_that_was_cut_short_left_is_removed_and_nothing_else() {
    let (_desk, path, _) = desk();
    let drive = path.parent().expect("a folder");
    // Cut short before the file had its name, by a program that had this one's number.
    let number = std::process::id();
    fs::write(drive.join(format!("pothook.{number}.new")), [1; 7]).expect("written");
    let made = key_file(&path).expect("made");
    assert_eq!(names(drive), ["pothook.key"]);
    // Cut short behind that: the same file once more. And what is none of ours.
    for name in ["pothook.4711.new", "pothook.0123456789abcdef.new"] {
        fs::hard_link(&path, drive.join(name)).expect("linked");
    }
    let others = [
        "pothook.12.old",
        "pothook.notes.new",
        "pothook..new",
        "another.12.new",
    ];
    for name in others {
        fs::write(drive.join(name), [2; 32]).expect("written");
    }
    fs::write(drive.join("pothook.13.new"), [2; 33]).expect("written");
    let again = key_file(&path).expect("read");
    assert!(key(&made) == key(&again));
    let mut left = [&others[..], &["pothook.13.new", "pothook.key"]].concat();
    left.sort_unstable();
    assert_eq!(names(drive), left);
}

#[test]
fn no_key_is_made_where_data_waits_for_one() {
    let (desk, path, data) = desk();
    assert_eq!(opened(&data, &path).as_deref(), Ok("Study"));
    let (drive, elsewhere) = (path.parent().expect("a folder"), desk.path().join("away"));
    // The drive is taken out: its place is there, or that neither.
    fs::rename(drive, &elsewhere).expect("renamed");
    for place in [false, true] {
        if place {
            fs::create_dir(drive).expect("a folder");
        }
        let refused = opened(&data, &path).expect_err("no key");
        assert_eq!(refused.code, "key-file-missing");
        assert!(refused.message.contains(&path.display().to_string()));
        assert!(!path.exists());
    }
    assert_eq!(names(drive), [""; 0]);
    let there = elsewhere.join("pothook.key");
    assert_eq!(opened(&data, &there).as_deref(), Ok("Study"));
    // One that is there, and opens something else.
    fs::write(&path, [3; 32]).expect("written");
    let refused = opened(&data, &path).expect_err("another key");
    assert_eq!(refused.code, "key-file-wrong");
    assert_eq!(fs::read(&path).expect("a file"), [3; 32]);
    // One that is none.
    fs::write(&path, [3; 31]).expect("written");
    let refused = opened(&data, &path).expect_err("half a key");
    assert_eq!(refused.code, "key-file-unusable");
}

/// A keyring that may fall silent.
#[derive(Default)]
struct Kept(Mutex<Option<Vec<u8>>>, Mutex<bool>);

impl Kept {
    fn asked(&self) -> Result<(), String> {
        match *locked(&self.1) {
            true => Err("it does not answer".to_owned()),
            false => Ok(()),
        }
    }
}

impl Keyring for Kept {
    fn get(&self, _: &str) -> Result<Option<Vec<u8>>, String> {
        self.asked().map(|()| locked(&self.0).clone())
    }

    fn set(&self, _: &str, secret: &[u8]) -> Result<(), String> {
        self.asked()?;
        *locked(&self.0) = Some(secret.to_vec());
        Ok(())
    }

    fn remove(&self, _: &str) -> Result<(), String> {
        self.asked()?;
        *locked(&self.0) = None;
        Ok(())
    }
}

#[test]
fn a_keyring_that_holds_the_key_is_neither_replaced_nor_said_to_be_missing() {
    let (_desk, path, data) = desk();
    let kept = Arc::new(Kept::default());
    let open = || {
        let keyring = Arc::clone(&kept) as Arc<dyn Keyring>;
        App::open_with(Opening {
            around: Surroundings {
                keyring,
                ..Surroundings::default()
            },
            ..Opening::new(&data, Opener::Keyring)
        })
    };
    *locked(&kept.1) = true;
    let refused = open().map(drop).expect_err("no keyring");
    assert_eq!(refused.code, "no-keyring", "a new folder may have another");
    *locked(&kept.1) = false;
    drop(open().expect("opened"));
    let refused = opened(&data, &path).expect_err("of the keyring");
    assert_eq!(refused.code, "keyring-needed");
    assert!(!path.exists());
    *locked(&kept.1) = true;
    let refused = open().map(drop).expect_err("silent");
    assert_eq!(refused.code, "keyring-silent");
    *locked(&kept.1) = false;
    drop(open().expect("opened"));
}
