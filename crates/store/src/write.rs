//! One write among those that a transaction makes together.

use rusqlite::Connection;
use units::BlobId;

use crate::blob_files::{BlobFiles, Name, Unused};
use crate::blobs::{Ready, Staged};
use crate::{Store, StoreError, blobs, changes, settings};

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
    /// Removes all changes of a document; one that is not there is no error.
    RemoveDoc(Vec<u8>),
    /// Keeps a blob.
    Blob(Vec<u8>),
    /// Removes a blob, and what there is of one on its way; one that is not there is no error.
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
            Self::RemoveDoc(doc) => Ok(Prepared::RemoveDoc(doc)),
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
    RemoveDoc(&'a [u8]),
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
    pub(crate) fn make<'f>(
        &self,
        database: &Connection,
        files: &'f BlobFiles,
        staged: Option<Staged<'f>>,
        effects: &mut Effects<'f>,
    ) -> Result<bool, StoreError> {
        match self {
            Self::Change {
                doc,
                seq,
                bytes,
                sum,
            } => changes::append(database, doc, *seq, bytes, sum),
            Self::RemoveDoc(doc) => changes::remove_doc(database, doc),
            Self::Blob { id, bytes } => blobs::put(database, files, *id, bytes, staged, effects),
            Self::RemoveBlob(id) => blobs::remove(database, *id, effects),
            Self::Setting { name, bytes, sum } => settings::set(database, name, bytes, sum),
            Self::RemoveSetting(name) => settings::remove(database, name),
        }
    }
}

/// What a transaction does to files: those that rows now name, and those that none names any more.
#[derive(Default)]
pub(crate) struct Effects<'f> {
    pub used: Vec<Unused<'f>>,
    pub removed: Vec<Name>,
}

impl Store {
    /// Makes all of the writes or, if one of them is refused, none.
    pub fn transaction(&self, writes: Vec<Write>) -> Result<(), StoreError> {
        self.write_all(writes.iter().map(Write::prepare)).map(drop)
    }

    /// Keeps a blob that was made ready, with other writes: all of it or nothing.
    pub fn keep_ready<'f>(&'f self, blob: Ready<'f>, writes: Vec<Write>) -> Result<(), StoreError> {
        let Ready { id, bytes, staged } = blob;
        let bytes = &bytes;
        let mut all = self.staged(writes.iter().map(Write::prepare))?;
        all.insert(0, (Prepared::Blob { id, bytes }, staged));
        self.make_all(all).map(drop)
    }

    /// The number of writes that were new, after all have been made in one transaction.
    ///
    /// Files first, then the rows that name them, then the end of files that no row names any more:
    /// wherever it is cut short, no row is without its file.
    pub(crate) fn write_all<'a>(
        &self,
        writes: impl IntoIterator<Item = Result<Prepared<'a>, StoreError>>,
    ) -> Result<usize, StoreError> {
        self.make_all(self.staged(writes)?)
    }

    /// Bounds, hashing and files, which come before the database is held.
    fn staged<'a>(
        &self,
        writes: impl IntoIterator<Item = Result<Prepared<'a>, StoreError>>,
    ) -> Result<Vec<(Prepared<'a>, Option<Staged<'_>>)>, StoreError> {
        let writes = writes.into_iter().collect::<Result<Vec<_>, _>>()?;
        let staged = writes.into_iter().map(|write| {
            let staged = self.stage(&write)?;
            Ok((write, staged))
        });
        staged.collect()
    }

    /// Makes writes whose files are on the disk.
    fn make_all<'f>(
        &'f self,
        writes: Vec<(Prepared<'_>, Option<Staged<'f>>)>,
    ) -> Result<usize, StoreError> {
        let (new, removed) = self.commit::<_, StoreError>(|database| {
            let mut effects = Effects::default();
            let mut new = 0;
            for (write, staged) in writes {
                new += usize::from(write.make(database, &self.blobs, staged, &mut effects)?);
            }
            // A commit may reach the disk and fail all the same; so the files stay from here on.
            effects.used.into_iter().for_each(Unused::keep);
            Ok((new, effects.removed))
        })?;
        for name in removed {
            self.blobs.unlink(name);
        }
        Ok(new)
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
