//! A new key, and what it makes an end of.

use store::{OpenError, Opener};

use crate::ground::{
    KEY, MemoryKeyring, copy_folder, database_keys, folder, open, opened_in, opener,
};

/// What the documentation of `renew_key` promises, and what it says that it cannot.
#[test]
fn a_copy_from_before_a_renewal_opens_only_where_the_key_lay_in_it() {
    let folder = folder();
    let keyring = MemoryKeyring::default();
    for (opener, opens) in [(opener(), true), (Opener::Keyring, false)] {
        let path = folder.path().join(format!("{opens}"));
        let copy = folder.path().join(format!("copy {opens}"));
        drop(opened_in(&path, &opener, &keyring.around()).unwrap());
        copy_folder(&path, &copy);
        opened_in(&path, &opener, &keyring.around())
            .unwrap()
            .renew_key()
            .unwrap();
        assert!(opened_in(&path, &opener, &keyring.around()).is_ok());
        let of_before = opened_in(&copy, &opener, &keyring.around());
        if opens {
            assert!(of_before.is_ok());
        } else {
            assert!(
                matches!(of_before, Err(OpenError::WrongKey)),
                "{of_before:?}"
            );
        }
    }
}

#[test]
fn every_renewal_gives_a_new_key_and_keeps_everything() {
    let folder = folder();
    let mut keys = Vec::new();
    for turn in 0..3 {
        let store = open(folder.path());
        store.append(b"doc", turn + 1, &[turn as u8; 100]).unwrap();
        let id = store.put_blob(&[turn as u8; 100_000]).unwrap();
        store
            .keep_part(units::BlobId([9; 32]), turn * 3, b"abc")
            .unwrap();
        store.renew_key().unwrap();
        store.set_setting("turn", &[turn as u8]).unwrap();
        keys.extend(database_keys(folder.path()));
        assert_eq!(store.blob(id).unwrap(), Some(vec![turn as u8; 100_000]));
    }
    let store = open(folder.path());
    assert_eq!(store.changes(b"doc", 0..).unwrap().len(), 3);
    assert_eq!(store.blobs().unwrap().len(), 3);
    assert_eq!(store.setting("turn").unwrap(), Some(vec![2]));
    assert_eq!(
        store.part(units::BlobId([9; 32])).unwrap(),
        Some(b"abcabcabc".to_vec())
    );
    store.check().unwrap();
    assert_eq!(keys.len(), 3);
    assert!(keys[0] != keys[1] && keys[1] != keys[2] && keys[0] != keys[2]);
    // The keys are not what they are sealed under.
    assert!(!keys.contains(&KEY));
}
