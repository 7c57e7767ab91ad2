//! What the tests stand on: a key, a keyring in memory, and ways to look into a folder.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::thread::sleep;
use std::time::Duration;

use chacha20poly1305::aead::{Aead, KeyInit, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use rusqlite::Connection;
use store::{Disk, Key, Keyring, OpenError, Opener, Store, StoreError, Surroundings};
use units::BlobId;

/// A folder that is removed at the end; in memory where there is such a place, because the tests force
/// thousands of files onto the disk.
pub fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    tempfile::tempdir_in(memory).unwrap_or_else(|_| tempfile::tempdir().unwrap())
}

pub const KEY: [u8; 32] = [0x4B; 32];

pub fn opener() -> Opener {
    Opener::Key(Key::new(KEY))
}

pub fn open(folder: &Path) -> Store {
    opened(folder).unwrap()
}

/// Opens a folder that is certainly free. A process that another test starts holds every lock of this
/// one for the moment between its fork and its own program; so a lock is asked for again.
pub fn opened(folder: &Path) -> Result<Store, OpenError> {
    opened_in(folder, &opener(), &Surroundings::default())
}

pub fn opened_in(
    folder: &Path,
    opener: &Opener,
    around: &Surroundings,
) -> Result<Store, OpenError> {
    for _ in 0..100 {
        match Store::open_in(folder, opener, around) {
            Err(OpenError::InUse) => sleep(Duration::from_millis(20)),
            answer => return answer,
        }
    }
    Err(OpenError::InUse)
}

pub fn damaged<T>(result: Result<T, StoreError>) -> bool {
    matches!(result, Err(StoreError::Damaged(_)))
}

pub fn id_of(bytes: &[u8]) -> BlobId {
    BlobId(*blake3::hash(bytes).as_bytes())
}

/// A keyring in memory. Clones are the same keyring.
#[derive(Clone, Default)]
pub struct MemoryKeyring(pub Arc<Mutex<BTreeMap<String, Vec<u8>>>>);

impl MemoryKeyring {
    pub fn entries(&self) -> BTreeMap<String, Vec<u8>> {
        self.0.lock().unwrap().clone()
    }

    /// Another keyring that holds the same now.
    pub fn copy(&self) -> Self {
        Self(Arc::new(Mutex::new(self.entries())))
    }

    pub fn around(&self) -> Surroundings {
        self.around_on(Arc::new(()))
    }

    pub fn around_on(&self, disk: Arc<dyn Disk>) -> Surroundings {
        Surroundings {
            disk,
            keyring: Arc::new(self.clone()),
        }
    }
}

impl Keyring for MemoryKeyring {
    fn get(&self, name: &str) -> Result<Option<Vec<u8>>, String> {
        Ok(self.0.lock().unwrap().get(name).cloned())
    }

    fn set(&self, name: &str, secret: &[u8]) -> Result<(), String> {
        self.0.lock().unwrap().insert(name.into(), secret.into());
        Ok(())
    }

    fn remove(&self, name: &str) -> Result<(), String> {
        self.0.lock().unwrap().remove(name);
        Ok(())
    }
}

/// The keys of the database, read from the key file as its form is described in `src/key_file.rs`, by
/// other code. The file must be under [`KEY`].
pub fn database_keys(folder: &Path) -> Vec<[u8; 32]> {
    let file = fs::read(folder.join("pothook.key")).unwrap();
    let (whole, sum) = file.split_last_chunk::<32>().unwrap();
    assert_eq!(blake3::hash(whole), *sum);
    assert_eq!(&whole[..13], b"pothook key\n\x01");
    assert_eq!(whole[30], 3, "under a key");
    let (head, rest) = whole.split_at(31);
    let (nonce, sealed) = rest.split_first_chunk::<24>().unwrap();
    let payload = Payload {
        msg: sealed,
        aad: head,
    };
    let keys = XChaCha20Poly1305::new(&KEY.into())
        .decrypt(&XNonce::from(*nonce), payload)
        .unwrap();
    keys.chunks(32).map(|key| key.try_into().unwrap()).collect()
}

/// The database, opened past the store.
pub fn database(folder: &Path) -> Connection {
    database_under(&folder.join("pothook.sqlite"), &database_keys(folder)[0])
}

pub fn database_under(path: &Path, key: &[u8; 32]) -> Connection {
    let database = Connection::open(path).unwrap();
    let hex: String = key.iter().map(|byte| format!("{byte:02x}")).collect();
    database
        .execute_batch(&format!(
            "PRAGMA cipher_log_level = NONE; PRAGMA key = \"x'{hex}'\";"
        ))
        .unwrap();
    database
}

/// Alters one row past the store.
pub fn alter(folder: &Path, sql: &str) {
    assert_eq!(database(folder).execute(sql, []).unwrap(), 1);
}

/// Every file below a folder, in order.
pub fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// The files of the blobs.
pub fn blob_files(folder: &Path) -> Vec<PathBuf> {
    let blobs = folder.join("blobs");
    if blobs.is_dir() {
        files(&blobs)
    } else {
        Vec::new()
    }
}

pub fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let copy = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy_folder(&path, &copy);
        } else {
            fs::copy(path, copy).unwrap();
        }
    }
}

pub fn contains(bytes: &[u8], wanted: &[u8]) -> bool {
    bytes.windows(wanted.len()).any(|window| window == wanted)
}

/// Nothing is left of what is written on the way, and every blob has its file.
pub fn assert_tidy(folder: &Path, store: &Store) {
    let mut names: Vec<String> = files(folder)
        .iter()
        .filter(|path| path.parent() == Some(folder))
        .map(|path| path.file_name().unwrap().to_str().unwrap().to_owned())
        .collect();
    names.retain(|name| name != "pothook.sqlite-wal");
    assert_eq!(names, ["pothook.key", "pothook.lock", "pothook.sqlite"]);
    assert_eq!(blob_files(folder).len(), store.blobs().unwrap().len());
}

/// Everything that a store holds, for comparing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Content {
    pub changes: Vec<(Vec<u8>, u64, Vec<u8>)>,
    pub blobs: Vec<Vec<u8>>,
    pub settings: Vec<Option<Vec<u8>>>,
}

/// What the store holds, read through its checks; of settings, those asked for.
pub fn content(store: &Store, settings: &[&str]) -> Content {
    store.check().unwrap();
    let mut content = Content::default();
    for (doc, _) in store.docs().unwrap() {
        for (seq, bytes) in store.changes(&doc, 0..).unwrap() {
            content.changes.push((doc.clone(), seq, bytes));
        }
    }
    for id in store.blobs().unwrap() {
        content.blobs.push(store.blob(id).unwrap().unwrap());
    }
    for name in settings {
        content.settings.push(store.setting(name).unwrap());
    }
    content
}
