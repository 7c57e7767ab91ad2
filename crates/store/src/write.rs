//! One write among those that a transaction makes together.

use rusqlite::Connection;
use units::BlobId;

use crate::{StoreError, blobs, changes, settings};

/// One step of a transaction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Write {
    /// Appends a change; a change that is there with the same bytes is left as it is.
    Change {
        /// Name of the document.
        doc: Vec<u8>,
        /// Its sequence number.
        seq: u64,
        /// The change.
        bytes: Vec<u8>,
    },
    /// Keeps a blob.
    Blob(Vec<u8>),
    /// Removes a blob; one that is not there is no error.
    RemoveBlob(BlobId),
    /// Sets a setting.
    Setting {
        /// Its name.
        name: String,
        /// Its value.
        bytes: Vec<u8>,
    },
    /// Removes a setting; one that is not there is no error.
    RemoveSetting(String),
}

impl Write {
    pub(crate) fn prepare(&self) -> Result<Prepared<'_>, StoreError> {
        match self {
            Self::Change { doc, seq, bytes } => Prepared::change(doc, *seq, bytes),
            Self::Blob(bytes) => Prepared::blob(bytes),
            Self::RemoveBlob(id) => Ok(Prepared::RemoveBlob(*id)),
            Self::Setting { name, bytes } => Prepared::setting(name, bytes),
            Self::RemoveSetting(name) => Ok(Prepared::RemoveSetting(name)),
        }
    }
}

/// A write within its bounds, hashed and ready.
pub(crate) enum Prepared<'a> {
    Change {
        doc: &'a [u8],
        seq: i64,
        bytes: &'a [u8],
        sum: [u8; 32],
    },
    Blob {
        id: BlobId,
        bytes: &'a [u8],
    },
    RemoveBlob(BlobId),
    Setting {
        name: &'a str,
        bytes: &'a [u8],
        sum: [u8; 32],
    },
    RemoveSetting(&'a str),
}

impl Prepared<'_> {
    /// Whether anything is new.
    pub(crate) fn make(&self, database: &Connection) -> Result<bool, StoreError> {
        match self {
            Self::Change {
                doc,
                seq,
                bytes,
                sum,
            } => changes::append(database, doc, *seq, bytes, sum),
            Self::Blob { id, bytes } => blobs::put(database, *id, bytes),
            Self::RemoveBlob(id) => blobs::remove(database, *id),
            Self::Setting { name, bytes, sum } => settings::set(database, name, bytes, sum),
            Self::RemoveSetting(name) => settings::remove(database, name),
        }
    }
}

pub(crate) fn within(what: &'static str, size: usize, limit: usize) -> Result<(), StoreError> {
    if size <= limit {
        return Ok(());
    }
    let limit = limit as u64;
    Err(StoreError::TooLarge { what, limit })
}

/// The checksum kept with small things, bound to their place so that swapped rows are found too.
pub(crate) fn checksum(place: &[&[u8]], bytes: &[u8]) -> [u8; 32] {
    let mut hash = blake3::Hasher::new();
    for part in place {
        hash.update(&(part.len() as u64).to_le_bytes());
        hash.update(part);
    }
    hash.update(bytes);
    *hash.finalize().as_bytes()
}
