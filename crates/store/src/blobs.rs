//! Blobs named by the BLAKE3 hash of their bytes, checked on the way in and on the way out.

use rusqlite::{Connection, OptionalExtension, params};
use units::BlobId;

use crate::write::{Prepared, within};
use crate::{MAX_BLOB_BYTES, Store, StoreError};

impl Store {
    /// Keeps a blob and hands back its name. Putting it again mends a damaged copy.
    pub fn put_blob(&self, bytes: &[u8]) -> Result<BlobId, StoreError> {
        self.write_all([Prepared::blob(bytes)])?;
        Ok(name_of(bytes))
    }

    /// Keeps a blob that came from elsewhere under the name it was asked for by.
    pub fn put_blob_as(&self, id: BlobId, bytes: &[u8]) -> Result<(), StoreError> {
        within("a blob", bytes.len(), MAX_BLOB_BYTES)?;
        if name_of(bytes) != id {
            return Err(StoreError::WrongName);
        }
        self.write_all([Ok(Prepared::Blob { id, bytes })]).map(drop)
    }

    /// The blob of this name; `None` if it is not here.
    pub fn blob(&self, id: BlobId) -> Result<Option<Vec<u8>>, StoreError> {
        let bytes: Option<Vec<u8>> = self
            .database()
            .prepare_cached("SELECT bytes FROM blobs WHERE id = ?1")?
            .query_row(params![id.0], |row| row.get(0))
            .optional()?;
        bytes.map(|bytes| checked(id, bytes)).transpose()
    }

    /// Whether a blob of this name is here; its bytes are not read.
    pub fn has_blob(&self, id: BlobId) -> Result<bool, StoreError> {
        let database = self.database();
        let mut rows = database.prepare_cached("SELECT 1 FROM blobs WHERE id = ?1")?;
        Ok(rows.exists(params![id.0])?)
    }

    /// Removes a blob. `true` if it was here.
    pub fn remove_blob(&self, id: BlobId) -> Result<bool, StoreError> {
        self.write_all([Ok(Prepared::RemoveBlob(id))])
            .map(|removed| removed == 1)
    }
}

impl<'a> Prepared<'a> {
    pub(crate) fn blob(bytes: &'a [u8]) -> Result<Self, StoreError> {
        within("a blob", bytes.len(), MAX_BLOB_BYTES)?;
        let id = name_of(bytes);
        Ok(Self::Blob { id, bytes })
    }
}

fn name_of(bytes: &[u8]) -> BlobId {
    BlobId(*blake3::hash(bytes).as_bytes())
}

fn checked(id: BlobId, bytes: Vec<u8>) -> Result<Vec<u8>, StoreError> {
    if name_of(&bytes) != id {
        return Err(StoreError::Damaged(format!("blob {id}")));
    }
    Ok(bytes)
}

pub(crate) fn put(database: &Connection, id: BlobId, bytes: &[u8]) -> Result<bool, StoreError> {
    let changed = database
        .prepare_cached(
            "INSERT INTO blobs (id, bytes) VALUES (?1, ?2)
             ON CONFLICT (id) DO UPDATE SET bytes = excluded.bytes
             WHERE bytes <> excluded.bytes",
        )?
        .execute(params![id.0, bytes])?;
    Ok(changed > 0)
}

pub(crate) fn remove(database: &Connection, id: BlobId) -> Result<bool, StoreError> {
    let removed = database
        .prepare_cached("DELETE FROM blobs WHERE id = ?1")?
        .execute(params![id.0])?;
    Ok(removed > 0)
}

pub(crate) fn check_all(database: &Connection) -> Result<(), StoreError> {
    let mut rows = database.prepare("SELECT id, bytes FROM blobs")?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        checked(BlobId(row.get(0)?), row.get(1)?)?;
    }
    Ok(())
}
