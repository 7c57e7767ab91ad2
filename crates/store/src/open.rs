//! Opening a folder: what an interruption left is finished or taken back first.
//!
//! The key file decides. Without one there is no store, whatever else lies in the folder; with one, the
//! database is whole under one of its keys.

use std::path::Path;
use std::sync::{Arc, Mutex};

use rusqlite::Connection;

use crate::blob_files::BlobFiles;
use crate::disk::{Disk, Files};
use crate::folder::Folder;
use crate::keyring::{Keyring, SystemKeyring};
use crate::keys::Keys;
use crate::{Holder, Key, OpenError, Opener, Store, StoreError, blobs, key_place, schema};

/// What lies around a store. The default is the real thing; a test hands in its own.
#[derive(Clone)]
pub struct Surroundings {
    /// Asked before every durable step.
    pub disk: Arc<dyn Disk>,
    /// Where [`Opener::Keyring`] keeps the key.
    pub keyring: Arc<dyn Keyring>,
}

impl Default for Surroundings {
    fn default() -> Self {
        Self {
            disk: Arc::new(()),
            keyring: Arc::new(SystemKeyring),
        }
    }
}

impl Store {
    /// Opens the folder, making it, and its key, if there is no store in it.
    pub fn open(folder: &Path, opener: &Opener) -> Result<Self, OpenError> {
        Self::open_in(folder, opener, &Surroundings::default())
    }

    /// [`Store::open`] on a disk that can be made to fail.
    pub fn open_on(folder: &Path, opener: &Opener, disk: Arc<dyn Disk>) -> Result<Self, OpenError> {
        let around = Surroundings {
            disk,
            ..Surroundings::default()
        };
        Self::open_in(folder, opener, &around)
    }

    /// [`Store::open`] with a disk and a keyring of the caller's.
    pub fn open_in(
        folder: &Path,
        opener: &Opener,
        around: &Surroundings,
    ) -> Result<Self, OpenError> {
        let claimed = Claimed::claim(folder, around)?;
        match key_place::read(&claimed.folder)? {
            Some(file) => {
                let keys = claimed.unlock(opener, &file)?;
                claimed.open(keys)
            }
            None => claimed.make(opener, |_, _| Ok(())),
        }
    }

    /// Who holds the key of this folder, without opening it; `None` if there is no store yet.
    pub fn locked_by(folder: &Path) -> Result<Option<Holder>, OpenError> {
        let folder = Folder::at(folder);
        match key_place::read(&folder)? {
            Some(file) => Ok(Some(file.holder())),
            None => folder.refuse_without_key().map(|()| None),
        }
    }
}

/// A folder that is locked, before anything in it is opened.
pub(crate) struct Claimed {
    folder: Folder,
    files: Files,
    keyring: Arc<dyn Keyring>,
    lock: std::fs::File,
}

impl Claimed {
    pub(crate) fn claim(folder: &Path, around: &Surroundings) -> Result<Self, OpenError> {
        let folder = Folder::at(folder);
        let files = Files::on(around.disk.clone());
        let lock = folder.claim(&files)?;
        // Where this fails, the same key file is read all the same.
        let _ = key_place::settle(&files, &folder);
        Ok(Self {
            folder,
            files,
            keyring: around.keyring.clone(),
            lock,
        })
    }

    /// Whether there is a store; an error if there is something else.
    pub(crate) fn has_store(&self) -> Result<bool, OpenError> {
        match key_place::read(&self.folder)? {
            Some(_) => Ok(true),
            None => self.folder.refuse_without_key().map(|()| false),
        }
    }

    /// Makes a store with what `fill` puts into it. Either there is one afterwards, whole, or none.
    pub(crate) fn make<E: From<StoreError> + From<OpenError>>(
        self,
        opener: &Opener,
        fill: impl FnOnce(&Connection, &BlobFiles) -> Result<(), E>,
    ) -> Result<Store, E> {
        self.folder.refuse_without_key()?;
        let blobs = self.blobs();
        // Left by a making that was cut short.
        blobs.sweep(&Default::default()).map_err(StoreError::from)?;
        let new = self.folder.new_database();
        self.files.unlink(&new).map_err(StoreError::from)?;
        let key = Key::random().map_err(StoreError::from)?;
        let make = || -> Result<Keys, E> {
            let Self { files, folder, .. } = &self;
            schema::build(files, &new, &key, |database| fill(database, &blobs))?;
            // The key file must not outlive the database's name in a power cut.
            let named = files.sync_folder(folder.path());
            named.map_err(StoreError::from)?;
            let keyring = self.keyring.clone();
            Ok(Keys::make(files, folder, keyring, opener, key.clone())?)
        };
        match make() {
            Ok(keys) => Ok(self.open(keys)?),
            Err(error) => {
                // With a key file, the store is made all the same, and opens next time.
                if matches!(key_place::read(&self.folder), Ok(None)) {
                    let _ = self.files.unlink(&new);
                    let _ = blobs.sweep(&Default::default());
                }
                Err(error)
            }
        }
    }

    fn unlock(&self, opener: &Opener, file: &crate::key_file::KeyFile) -> Result<Keys, OpenError> {
        Keys::unlock(
            &self.files,
            &self.folder,
            self.keyring.clone(),
            opener,
            file,
        )
    }

    fn open(self, mut keys: Keys) -> Result<Store, OpenError> {
        self.place_database(&keys)?;
        let before = keys.current().clone();
        let database = connect(&self.folder, &mut keys)?;
        if *keys.current() != before {
            // A renewal was cut short after its new database had taken the name.
            self.files.sync_folder(self.folder.path())?;
            let only = vec![keys.current().clone()];
            let _ = keys.set(only);
        }
        // What cannot be tidied now, on a full disk say, is tidied when the folder is opened next.
        let _ = self.files.unlink(&self.folder.new_database());
        keys.clear_keyring();
        let known = blobs::known_files(&database)?;
        let unfinished = keys.all().len() > 1;
        let store = Store {
            database: Mutex::new(Some(database)),
            holder: Mutex::new(keys.holder()),
            keys: Mutex::new(keys),
            blobs: self.blobs(),
            files: self.files,
            folder: self.folder,
            _lock: self.lock,
        };
        let _ = store.blobs.sweep(&known);
        if unfinished {
            // A renewal was cut short earlier: somebody wanted to be rid of something.
            let _ = store.renew_key();
        }
        Ok(store)
    }

    /// Gives a database that was made whole its name, if the making was cut short before that.
    fn place_database(&self, keys: &Keys) -> Result<(), OpenError> {
        let (database, new) = (self.folder.database(), self.folder.new_database());
        let there = database.try_exists()? && database.metadata()?.len() > 0;
        if there {
            return Ok(());
        }
        if keys.all().len() > 1 || !new.try_exists()? {
            return Err(OpenError::Damaged("the database is not there".to_owned()));
        }
        self.files.rename(&new, &database)?;
        Ok(self.files.sync_folder(self.folder.path())?)
    }

    fn blobs(&self) -> BlobFiles {
        BlobFiles {
            root: self.folder.blobs(),
            files: self.files.clone(),
        }
    }
}

/// Opens the database with the key that fits it, which is the current one from then on.
pub(crate) fn connect(folder: &Folder, keys: &mut Keys) -> Result<Connection, OpenError> {
    for key in keys.all().to_vec() {
        if let Some(database) = schema::connect(&folder.database(), &key)? {
            keys.is_under(&key);
            return Ok(database);
        }
    }
    // A sealed key that opened is the right one. The keyring's may be that of another copy.
    Err(match keys.holder() {
        Holder::Keyring => OpenError::WrongKey,
        _ => OpenError::Damaged("the database does not open with its key".to_owned()),
    })
}
