//! What can go wrong, one enum for opening and one for reading and writing.

use rusqlite::ErrorCode;
use rusqlite::ffi;

/// Why a data folder was not opened. Nothing in it was changed.
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
    /// The disk is full.
    #[error("the disk is full")]
    Full,
    /// The database is damaged.
    #[error("the database is damaged: {0}")]
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
    /// Another program holds the database.
    #[error("the database is held by another program")]
    Locked,
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

impl From<rusqlite::Error> for OpenError {
    fn from(error: rusqlite::Error) -> Self {
        if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) {
            return Self::NotADatabase;
        }
        match StoreError::from(error) {
            StoreError::Full => Self::Full,
            StoreError::Locked => Self::InUse,
            StoreError::Damaged(what) => Self::Damaged(what),
            other => Self::Disk(other.to_string()),
        }
    }
}

impl From<std::io::Error> for OpenError {
    fn from(error: std::io::Error) -> Self {
        match error.kind() {
            std::io::ErrorKind::StorageFull => Self::Full,
            _ => Self::Disk(error.to_string()),
        }
    }
}
