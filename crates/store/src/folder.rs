//! The folder, its lock, and where things lie in it.

use std::fs::{File, TryLockError};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::OpenError;
use crate::disk::{Files, private_file};

/// What the first 16 bytes of every unencrypted SQLite database are.
/// <https://www.sqlite.org/fileformat.html>, section 1.3.
const PLAIN_DATABASE: &[u8; 16] = b"SQLite format 3\0";
/// Where SQLite keeps the application's mark, most significant byte first. Ibid.
const MARK_AT: usize = 68;

/// Where things lie in one data folder.
#[derive(Debug, Clone)]
pub(crate) struct Folder(PathBuf);

impl Folder {
    pub(crate) fn at(path: &Path) -> Self {
        Self(path.to_owned())
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    pub(crate) fn database(&self) -> PathBuf {
        self.0.join("pothook.sqlite")
    }

    /// SQLite's write-ahead log of the database.
    pub(crate) fn log(&self) -> PathBuf {
        self.0.join("pothook.sqlite-wal")
    }

    /// A database that is whole and on the disk before it takes the other's place.
    pub(crate) fn new_database(&self) -> PathBuf {
        self.0.join("pothook.sqlite.new")
    }

    pub(crate) fn key(&self) -> PathBuf {
        self.0.join("pothook.key")
    }

    pub(crate) fn new_key(&self) -> PathBuf {
        self.0.join("pothook.key.new")
    }

    pub(crate) fn old_key(&self) -> PathBuf {
        self.0.join("pothook.key.old")
    }

    pub(crate) fn blobs(&self) -> PathBuf {
        self.0.join("blobs")
    }

    /// Makes the folder if need be and locks it.
    ///
    /// The system drops the lock with the file, also when the process is killed.
    pub(crate) fn claim(&self, files: &Files) -> Result<File, OpenError> {
        files.make_folder(&self.0)?;
        let lock = private_file()
            .create(true)
            .truncate(false)
            .open(self.0.join("pothook.lock"))?;
        match lock.try_lock() {
            Ok(()) => Ok(lock),
            Err(TryLockError::WouldBlock) => Err(OpenError::InUse),
            Err(TryLockError::Error(error)) => Err(error.into()),
        }
    }

    /// Refuses a folder without a key file that holds a database all the same.
    pub(crate) fn refuse_without_key(&self) -> Result<(), OpenError> {
        let head = start_of(&self.database())?;
        if head.is_empty() {
            // A log alone is somebody's data too, and would be taken for that of the new database.
            return match start_of(&self.log())?.is_empty() {
                true => Ok(()),
                false => Err(OpenError::NotADatabase),
            };
        }
        if head.starts_with(PLAIN_DATABASE) {
            let ours = head.get(MARK_AT..MARK_AT + 4) == Some(b"Phk1");
            return Err(if ours {
                OpenError::Old
            } else {
                OpenError::NotADatabase
            });
        }
        // What is encrypted looks like anything; but it comes in whole pages.
        if head.len() == 4096 && self.blobs().is_dir() {
            return Err(OpenError::KeyGone);
        }
        Err(OpenError::NotADatabase)
    }
}

/// The first bytes of a file, at most a page; none if it is not there.
fn start_of(path: &Path) -> io::Result<Vec<u8>> {
    let mut head = Vec::new();
    match File::open(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        opened => {
            opened?.take(4096).read_to_end(&mut head)?;
        }
    }
    Ok(head)
}
