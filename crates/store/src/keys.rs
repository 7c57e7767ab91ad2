//! The keys of the database, and who holds them.

use std::sync::Arc;

use crate::disk::{Files, Step};
use crate::folder::Folder;
use crate::kdf::{SALT, Work};
use crate::key_file::{KeyFile, Lock, Sealed, keys_from};
use crate::keyring::Keyring;
use crate::{Holder, Key, OpenError, Opener, StoreError, key_place};

/// The database's key, and the next one while a renewal is on its way; kept on the disk by whoever
/// holds them. Every change is whole on the disk when it returns, or has failed.
pub(crate) struct Keys {
    files: Files,
    folder: Folder,
    keyring: Arc<dyn Keyring>,
    id: [u8; 16],
    keyring_to_clear: bool,
    held: Held,
    keys: Vec<Key>,
}

/// What is needed to keep the database's keys again.
#[derive(Clone)]
enum Held {
    Keyring,
    Passphrase(Work, [u8; SALT], Key),
    Key(Key),
}

impl Held {
    fn new(opener: &Opener) -> Result<Self, StoreError> {
        match opener {
            Opener::Keyring => Ok(Self::Keyring),
            Opener::Passphrase(passphrase) => {
                let mut salt = [0; SALT];
                getrandom::fill(&mut salt).map_err(std::io::Error::from)?;
                let key = Work::NOW.derive(passphrase, &salt);
                let key = key.ok_or_else(|| StoreError::Disk("too little memory".into()))?;
                Ok(Self::Passphrase(Work::NOW, salt, key))
            }
            Opener::Key(key) => Ok(Self::Key(key.clone())),
        }
    }

    /// Where the lock's sealing comes from; `None` where nothing is sealed.
    fn key(&self) -> Option<&Key> {
        match self {
            Self::Keyring => None,
            Self::Passphrase(_, _, key) | Self::Key(key) => Some(key),
        }
    }

    /// The lock, with nothing sealed in it yet.
    fn lock(&self) -> Lock {
        let sealed = Sealed::default();
        match self {
            Self::Keyring => Lock::Keyring,
            Self::Passphrase(work, salt, _) => Lock::Passphrase(*work, *salt, sealed),
            Self::Key(_) => Lock::Key(sealed),
        }
    }
}

impl Keys {
    /// Gives the folder its first key file. From then on there is a store.
    pub(crate) fn make(
        files: &Files,
        folder: &Folder,
        keyring: Arc<dyn Keyring>,
        opener: &Opener,
        key: Key,
    ) -> Result<Self, StoreError> {
        let mut id = [0; 16];
        getrandom::fill(&mut id).map_err(std::io::Error::from)?;
        let keys = Self {
            files: files.clone(),
            folder: folder.clone(),
            keyring,
            id,
            keyring_to_clear: false,
            held: Held::new(opener)?,
            keys: vec![key],
        };
        if let Held::Keyring = keys.held {
            keys.tell_keyring(&keys.keys)?;
        }
        let written = keys.write(&keys.held, &keys.keys, false);
        if written.is_err() && matches!(key_place::read(folder), Ok(None)) {
            // There is no folder of this id, and never will be.
            let _ = keys.forget_in_keyring();
        }
        written.map(|()| keys)
    }

    /// Opens the keys of a key file.
    pub(crate) fn unlock(
        files: &Files,
        folder: &Folder,
        keyring: Arc<dyn Keyring>,
        opener: &Opener,
        file: &KeyFile,
    ) -> Result<Self, OpenError> {
        let unlocked = match (&file.lock, opener) {
            (Lock::Keyring, Opener::Keyring) => {
                let secret = keyring
                    .get(&name_of(file.id))
                    .map_err(OpenError::NoKeyring)?;
                let secret = zeroize::Zeroizing::new(secret.ok_or(OpenError::KeyGone)?);
                keys_from(&secret).map(|keys| (Held::Keyring, keys))
            }
            (Lock::Passphrase(work, salt, _), Opener::Passphrase(passphrase)) => {
                let under = work.derive(passphrase, salt).ok_or_else(|| {
                    OpenError::Damaged("the key file asks for too much work".to_owned())
                })?;
                let keys = file.open(&under);
                keys.map(|keys| (Held::Passphrase(*work, *salt, under), keys))
            }
            (Lock::Key(_), Opener::Key(under)) => {
                let keys = file.open(under);
                keys.map(|keys| (Held::Key(under.clone()), keys))
            }
            _ => return Err(OpenError::Unlike(file.holder())),
        };
        let (held, keys) = unlocked.ok_or(OpenError::WrongKey)?;
        Ok(Self {
            files: files.clone(),
            folder: folder.clone(),
            keyring,
            id: file.id,
            keyring_to_clear: file.keyring_to_clear,
            held,
            keys,
        })
    }

    /// One key, or two while a renewal is on its way: the database is under one of them.
    pub(crate) fn all(&self) -> &[Key] {
        &self.keys
    }

    /// The key that the database is under, as far as is known.
    pub(crate) fn current(&self) -> &Key {
        &self.keys[0]
    }

    /// The database was seen to open with this key.
    pub(crate) fn is_under(&mut self, key: &Key) {
        self.keys.sort_by_key(|other| other != key);
    }

    pub(crate) fn holder(&self) -> Holder {
        match self.held {
            Held::Keyring => Holder::Keyring,
            Held::Passphrase(..) => Holder::Passphrase,
            Held::Key(_) => Holder::Key,
        }
    }

    /// Keeps these keys in place of those that were kept.
    pub(crate) fn set(&mut self, keys: Vec<Key>) -> Result<(), StoreError> {
        match self.held {
            Held::Keyring => self.tell_keyring(&keys)?,
            _ => self.write(&self.held, &keys, self.keyring_to_clear)?,
        }
        self.keys = keys;
        Ok(())
    }

    /// Gives the keys into another's hands.
    pub(crate) fn change_opener(&mut self, opener: &Opener) -> Result<(), StoreError> {
        let held = Held::new(opener)?;
        match (&self.held, &held) {
            (Held::Keyring, Held::Keyring) => return Ok(()),
            (Held::Keyring, _) => self.take(held, true)?,
            (_, Held::Keyring) => {
                // Noted first: if this is cut short, the entry is found and removed.
                self.take(self.held.clone(), true)?;
                if let Err(error) = self.tell_keyring(&self.keys) {
                    self.clear_keyring();
                    return Err(error);
                }
                self.take(held, false)?;
            }
            _ => self.take(held, self.keyring_to_clear)?,
        }
        self.clear_keyring();
        Ok(())
    }

    /// Removes the keyring's entry where it is only left over. A keyring that cannot be asked is
    /// asked again when the folder is opened next.
    pub(crate) fn clear_keyring(&mut self) {
        if !self.keyring_to_clear {
            return;
        }
        if self.forget_in_keyring().is_ok() {
            let _ = self.take(self.held.clone(), false);
        }
    }

    fn forget_in_keyring(&self) -> Result<(), StoreError> {
        let name = name_of(self.id);
        let before = self.files.before(Step::RemoveSecret(&name));
        before.map_err(|error| StoreError::NoKeyring(error.to_string()))?;
        self.keyring.remove(&name).map_err(StoreError::NoKeyring)
    }

    /// Writes the key file, and takes it as what is so once it is on the disk.
    fn take(&mut self, held: Held, keyring_to_clear: bool) -> Result<(), StoreError> {
        self.write(&held, &self.keys, keyring_to_clear)?;
        self.held = held;
        self.keyring_to_clear = keyring_to_clear;
        Ok(())
    }

    fn write(&self, held: &Held, keys: &[Key], keyring_to_clear: bool) -> Result<(), StoreError> {
        let mut file = KeyFile {
            id: self.id,
            keyring_to_clear,
            lock: held.lock(),
        };
        if let Some(under) = held.key() {
            file.seal(keys, under)?;
        }
        Ok(key_place::replace(&self.files, &self.folder, &file)?)
    }

    fn tell_keyring(&self, keys: &[Key]) -> Result<(), StoreError> {
        let name = name_of(self.id);
        let before = self.files.before(Step::KeepSecret(&name));
        before.map_err(|error| StoreError::NoKeyring(error.to_string()))?;
        let mut secret = zeroize::Zeroizing::new(Vec::with_capacity(keys.len() * Key::LENGTH));
        secret.extend(keys.iter().flat_map(Key::bytes));
        let kept = self.keyring.set(&name, &secret);
        kept.map_err(StoreError::NoKeyring)
    }
}

/// The keyring's name for a folder's keys.
fn name_of(id: [u8; 16]) -> String {
    id.iter().map(|byte| format!("{byte:02x}")).collect()
}
