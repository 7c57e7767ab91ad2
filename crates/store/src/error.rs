//! What can go wrong, one enum for opening, one for reading and writing, one for backups.

use std::io;

use rusqlite::ErrorCode;
use rusqlite::ffi;

use crate::Holder;

/// Why a data folder was not opened. Nothing that was kept in it is lost.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Another process, or this one, has the folder open.
    #[error("the data folder is in use")]
    InUse,
    /// The database file is something else.
    #[error("the file in the data folder is not a database of this program")]
    NotADatabase,
    /// The folder was written by a newer version of the program.
    #[error("the data folder has version {version}, newer than this program knows")]
    Newer {
        /// Version of the folder.
        version: u32,
    },
    /// The folder was written by the first version of the program, without encryption.
    #[error("the data folder is of the first version, which was not encrypted")]
    Old,
    /// This passphrase or key does not open the folder.
    #[error("this passphrase or key does not open the data folder")]
    WrongKey,
    /// The folder's key is held by another: it needs another kind of [`crate::Opener`].
    #[error("the key of the data folder is held otherwise: {0:?}")]
    Unlike(Holder),
    /// The system's keyring cannot be asked.
    #[error("the system's keyring cannot be used: {0}")]
    NoKeyring(String),
    /// The keyring has no key for this folder, or the folder has no key file. Without it nobody can
    /// read the folder.
    #[error("the key of the data folder is gone")]
    KeyGone,
    /// The disk is full.
    #[error("the disk is full")]
    Full,
    /// The database or the key file is damaged.
    #[error("damaged on disk: {0}")]
    Damaged(String),
    /// The folder cannot be made, read or written.
    #[error("the data folder cannot be used: {0}")]
    Disk(String),
}

/// Why something was not read or written. A refused write changed nothing.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The disk is full. What was written before is safe.
    #[error("the disk is full")]
    Full,
    /// This sequence number of the document is taken by other bytes.
    #[error("change {seq} of this document is already there with other content")]
    Conflict {
        /// The sequence number.
        seq: u64,
    },
    /// What is on disk is not what was written.
    #[error("damaged on disk: {0}")]
    Damaged(String),
    /// Bytes offered under a name that is not theirs.
    #[error("the blob is not the one that its name stands for")]
    WrongName,
    /// Bytes of a blob on its way that do not begin where those that are there end.
    #[error("{length} bytes of this blob are there, and the next must follow them")]
    OutOfPlace {
        /// Bytes that are there.
        length: u64,
    },
    /// Another program holds the database.
    #[error("the database is held by another program")]
    Locked,
    /// The disk failed while the key was being renewed, and the database had to be closed. Nothing is
    /// lost: the folder is to be opened again.
    #[error("the database had to be closed")]
    Closed,
    /// The system's keyring cannot be asked.
    #[error("the system's keyring cannot be used: {0}")]
    NoKeyring(String),
    /// More than may be kept in one piece.
    #[error("{what} is larger than {limit}")]
    TooLarge {
        /// What.
        what: &'static str,
        /// Most bytes, or the largest number.
        limit: u64,
    },
    /// The disk cannot be read or written.
    #[error("the disk failed: {0}")]
    Disk(String),
}

/// Why a backup was not made, read or brought back. Nothing was kept of what was not.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// There is a file of this name. It was not touched.
    #[error("there is a file of this name already")]
    Exists,
    /// There is a store in the folder. It was not touched.
    #[error("there is a store in this folder already")]
    StoreThere,
    /// The file is no backup of this program.
    #[error("the file is not a backup of this program")]
    NotABackup,
    /// The backup was written by a newer version of the program.
    #[error("the backup has version {version}, newer than this program knows")]
    Newer {
        /// Version of the backup.
        version: u32,
    },
    /// This passphrase does not open the backup; or its first lines are damaged, which looks the same.
    #[error("this passphrase does not open the backup")]
    WrongPassphrase,
    /// The backup was cut short or altered.
    #[error("the backup is damaged: {0}")]
    Damaged(String),
    /// The disk is full.
    #[error("the disk is full")]
    Full,
    /// The backup file cannot be read or written.
    #[error("the backup cannot be read or written: {0}")]
    Disk(String),
    /// The store cannot be read or written.
    #[error(transparent)]
    Store(StoreError),
    /// The folder cannot be opened.
    #[error(transparent)]
    Open(OpenError),
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        let rusqlite::Error::SqliteFailure(code, _) = &error else {
            // A column of another type than was written.
            return Self::Damaged(error.to_string());
        };
        match code.code {
            ErrorCode::DiskFull => Self::Full,
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => Self::Locked,
            ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase => {
                Self::Damaged(error.to_string())
            }
            _ if code.extended_code == ffi::SQLITE_IOERR_SHMSIZE => Self::Full,
            _ => Self::Disk(error.to_string()),
        }
    }
}

impl From<io::Error> for StoreError {
    fn from(error: io::Error) -> Self {
        if is_full(&error) {
            Self::Full
        } else {
            Self::Disk(error.to_string())
        }
    }
}

impl From<getrandom::Error> for StoreError {
    fn from(error: getrandom::Error) -> Self {
        io::Error::from(error).into()
    }
}

impl From<OpenError> for StoreError {
    fn from(error: OpenError) -> Self {
        match error {
            OpenError::Full => Self::Full,
            OpenError::InUse => Self::Locked,
            OpenError::NoKeyring(reason) => Self::NoKeyring(reason),
            OpenError::Disk(reason) => Self::Disk(reason),
            OpenError::Damaged(what) => Self::Damaged(what),
            other => Self::Damaged(other.to_string()),
        }
    }
}

impl From<StoreError> for OpenError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Full => Self::Full,
            StoreError::Locked => Self::InUse,
            StoreError::NoKeyring(reason) => Self::NoKeyring(reason),
            StoreError::Damaged(what) => Self::Damaged(what),
            StoreError::Disk(reason) => Self::Disk(reason),
            other => Self::Disk(other.to_string()),
        }
    }
}

impl From<rusqlite::Error> for OpenError {
    fn from(error: rusqlite::Error) -> Self {
        StoreError::from(error).into()
    }
}

impl From<io::Error> for OpenError {
    fn from(error: io::Error) -> Self {
        StoreError::from(error).into()
    }
}

impl From<io::Error> for BackupError {
    fn from(error: io::Error) -> Self {
        if is_full(&error) {
            Self::Full
        } else {
            Self::Disk(error.to_string())
        }
    }
}

impl From<rusqlite::Error> for BackupError {
    fn from(error: rusqlite::Error) -> Self {
        StoreError::from(error).into()
    }
}

impl From<StoreError> for BackupError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Full => Self::Full,
            other => Self::Store(other),
        }
    }
}

impl From<OpenError> for BackupError {
    fn from(error: OpenError) -> Self {
        match error {
            OpenError::Full => Self::Full,
            other => Self::Open(other),
        }
    }
}

/// Full, or as much as this person may have.
fn is_full(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded
    )
}
