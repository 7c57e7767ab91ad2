//! The first bytes of blobs that are still on their way.

use rusqlite::{Connection, OptionalExtension, params};
use units::BlobId;

use crate::write::within;
use crate::{MAX_BLOB_BYTES, Store, StoreError, blobs};

impl Store {
    /// What there is of a blob that is still on its way; `None` if there is nothing, or all of it.
    pub fn part(&self, id: BlobId) -> Result<Option<Vec<u8>>, StoreError> {
        let database = self.database()?;
        let length = length(&database, id)?;
        if length == 0 {
            return Ok(None);
        }
        let mut whole = Vec::with_capacity(length);
        let mut rows = database
            .prepare_cached("SELECT start, bytes FROM parts WHERE id = ?1 ORDER BY start")?;
        let mut rows = rows.query(params![id.0])?;
        while let Some(row) = rows.next()? {
            if row.get::<_, usize>(0)? != whole.len() {
                return Err(StoreError::Damaged(format!("the part of blob {id}")));
            }
            whole.extend(row.get_ref(1)?.as_blob().map_err(rusqlite::Error::from)?);
        }
        Ok(Some(whole))
    }

    /// Keeps bytes of a blob that is on its way. They begin at byte `from`, where what is there ends.
    ///
    /// What the bytes are worth shows when the blob is put whole; that also removes the part. Of a
    /// blob that is here, nothing more is kept.
    pub fn keep_part(&self, id: BlobId, from: u64, bytes: &[u8]) -> Result<(), StoreError> {
        within("a part of a blob", bytes.len(), MAX_BLOB_BYTES)?;
        self.commit(|database| {
            if bytes.is_empty() || blobs::row(database, id)?.is_some() {
                return Ok(());
            }
            let there = length(database, id)?;
            if from != there as u64 {
                return Err(StoreError::OutOfPlace {
                    length: there as u64,
                });
            }
            within("a blob", there + bytes.len(), MAX_BLOB_BYTES)?;
            database
                .prepare_cached("INSERT INTO parts (id, start, bytes) VALUES (?1, ?2, ?3)")?
                .execute(params![id.0, there, bytes])?;
            Ok(())
        })
    }

    /// The blobs of which a part is here, in ascending order.
    pub fn parts(&self) -> Result<Vec<BlobId>, StoreError> {
        let database = self.database()?;
        let mut rows = database.prepare_cached("SELECT DISTINCT id FROM parts ORDER BY id")?;
        let rows = rows.query_map([], |row| row.get(0).map(BlobId))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Removes what there is of a blob that is on its way; nothing there is no error.
    pub fn drop_part(&self, id: BlobId) -> Result<(), StoreError> {
        self.commit(|database| remove(database, id))
    }
}

fn length(database: &Connection, id: BlobId) -> Result<usize, StoreError> {
    let length: Option<usize> = database
        .prepare_cached(
            "SELECT start + length(bytes) FROM parts WHERE id = ?1 ORDER BY start DESC LIMIT 1",
        )?
        .query_row(params![id.0], |row| row.get(0))
        .optional()?;
    match length {
        Some(length) if length > MAX_BLOB_BYTES => {
            Err(StoreError::Damaged(format!("the part of blob {id}")))
        }
        length => Ok(length.unwrap_or(0)),
    }
}

pub(crate) fn remove(database: &Connection, id: BlobId) -> Result<(), StoreError> {
    database
        .prepare_cached("DELETE FROM parts WHERE id = ?1")?
        .execute(params![id.0])?;
    Ok(())
}
