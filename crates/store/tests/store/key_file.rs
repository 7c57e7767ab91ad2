//! The key file: replaced without a trace, and refused where it is damaged or asks too much.

use std::fs;

use store::{Holder, Key, OpenError, Opener, Passphrase, Store, Surroundings};

use crate::ground::{folder, open, opened, opened_in};

/// Seen through a second name for the same file, which keeps it from going.
#[cfg(unix)]
#[test]
fn a_replaced_key_file_is_overwritten() {
    let folder = folder();
    let store = open(folder.path());
    let path = folder.path().join("pothook.key");
    let (before_change, before_renewal) = (
        folder.path().join("before change"),
        folder.path().join("before renewal"),
    );
    fs::hard_link(&path, &before_change).unwrap();
    store
        .change_opener(&Opener::Key(Key::new([1; 32])))
        .unwrap();
    fs::hard_link(&path, &before_renewal).unwrap();
    store.renew_key().unwrap();
    for old in [before_change, before_renewal] {
        let bytes = fs::read(old).unwrap();
        assert!(
            !bytes.is_empty() && bytes.iter().all(|byte| *byte == 0),
            "{bytes:?}"
        );
    }
}

#[test]
fn a_damaged_key_file_opens_nothing_and_is_left_as_it_is() {
    let folder = folder();
    drop(open(folder.path()));
    let path = folder.path().join("pothook.key");
    let whole = fs::read(&path).unwrap();
    let mut damaged: Vec<Vec<u8>> = (0..whole.len())
        .map(|at| {
            let mut bytes = whole.clone();
            bytes[at] ^= 0x21;
            bytes
        })
        .collect();
    damaged.push(Vec::new());
    damaged.push([whole.clone(), vec![0]].concat());
    damaged.push(vec![0x70; 1 << 20]);
    damaged.extend(
        (1..whole.len())
            .step_by(10)
            .map(|end| whole[..end].to_vec()),
    );
    for bytes in damaged {
        fs::write(&path, &bytes).unwrap();
        let refused = opened(folder.path());
        let told = matches!(
            refused,
            Err(OpenError::Damaged(_) | OpenError::Newer { .. })
        );
        assert!(told, "{refused:?}");
        assert!(Store::locked_by(folder.path()).is_err());
        assert_eq!(fs::read(&path).unwrap(), bytes);
    }
    fs::write(&path, &whole).unwrap();
    assert!(opened(folder.path()).is_ok());
}

/// A key file made by hand, as its form is described in `src/key_file.rs`.
#[test]
fn a_key_file_that_asks_for_endless_work_is_refused_at_once() {
    let folder = folder();
    drop(open(folder.path()));
    let path = folder.path().join("pothook.key");
    let heron = Opener::Passphrase(Passphrase::new("heron"));
    for (memory, passes, lanes) in [
        (u32::MAX, u32::MAX, u32::MAX),
        (1 << 30, 1_u32, 1_u32),
        (64 << 10, 1 << 30, 1),
        (0, 0, 0),
    ] {
        let mut bytes = b"pothook key\n\x01".to_vec();
        bytes.extend([7; 16]);
        bytes.extend([0, 2]);
        bytes.extend(
            [memory, passes, lanes]
                .iter()
                .flat_map(|number| number.to_le_bytes()),
        );
        bytes.extend([9; 16 + 24 + 32 + 16]);
        let sum = *blake3::hash(&bytes).as_bytes();
        bytes.extend(sum);
        fs::write(&path, &bytes).unwrap();
        assert_eq!(
            Store::locked_by(folder.path()).unwrap(),
            Some(Holder::Passphrase)
        );
        let refused = opened_in(folder.path(), &heron, &Surroundings::default());
        assert!(matches!(refused, Err(OpenError::Damaged(_))), "{refused:?}");
    }
}
