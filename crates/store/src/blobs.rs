//! Blobs named by the BLAKE3 hash of their bytes, checked on the way in, unless they were just before, and on
//! the way out.

use rusqlite::{Connection, OptionalExtension, params};
use units::BlobId;

use crate::blob_files::{BlobFiles, Name, Row, Unused};
use crate::sealed::Cipher;
use crate::write::{Effects, Prepared, within};
use crate::{Key, MAX_BLOB_BYTES, Store, StoreError, parts};

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

    /// Does of keeping a blob what takes long, sealing it and forcing it onto the disk, so that
    /// [`Store::keep_ready`] does the rest in a moment, while others wait.
    ///
    /// That this is the name of the bytes was checked when they came; what is wrong all the same shows when
    /// the blob is read.
    pub fn ready(&self, id: BlobId, bytes: Vec<u8>) -> Result<Ready<'_>, StoreError> {
        within("a blob", bytes.len(), MAX_BLOB_BYTES)?;
        let staged = self.stage_blob(id, &bytes)?;
        Ok(Ready { id, bytes, staged })
    }

    /// The blob of this name; `None` if it is not here.
    pub fn blob(&self, id: BlobId) -> Result<Option<Vec<u8>>, StoreError> {
        let mut found = self.blob_row(id)?;
        while let Some(row) = found {
            match self.blobs.read(id, &row) {
                Ok(bytes) => return Ok(Some(bytes)),
                Err(error) => {
                    // Unless it was removed or put again while its file was being read.
                    found = self.blob_row(id)?;
                    if found.as_ref() == Some(&row) {
                        return Err(error);
                    }
                }
            }
        }
        Ok(None)
    }

    /// Whether a blob of this name is here; its bytes are not read.
    pub fn has_blob(&self, id: BlobId) -> Result<bool, StoreError> {
        self.blob_length(id).map(|length| length.is_some())
    }

    /// Bytes in the blob of this name, which are not read; `None` if it is not here.
    pub fn blob_length(&self, id: BlobId) -> Result<Option<u64>, StoreError> {
        let row = self.blob_row(id)?;
        Ok(row.map(|row| row.length as u64))
    }

    /// The names of all blobs, in order.
    pub fn blobs(&self) -> Result<Vec<BlobId>, StoreError> {
        let database = self.database()?;
        let mut ids = database.prepare_cached("SELECT id FROM blobs ORDER BY id")?;
        let ids = ids.query_map([], |row| row.get(0).map(BlobId))?;
        Ok(ids.collect::<Result<_, _>>()?)
    }

    /// Removes a blob, and what there is of one that is still on its way. `true` if it was here.
    pub fn remove_blob(&self, id: BlobId) -> Result<bool, StoreError> {
        self.write_all([Ok(Prepared::RemoveBlob(id))])
            .map(|removed| removed == 1)
    }

    fn blob_row(&self, id: BlobId) -> Result<Option<Row>, StoreError> {
        row(&*self.database()?, id)
    }

    pub(crate) fn stage(&self, write: &Prepared<'_>) -> Result<Option<Staged<'_>>, StoreError> {
        match write {
            Prepared::Blob { id, bytes } => self.stage_blob(*id, bytes),
            _ => Ok(None),
        }
    }

    /// Writes the file of a blob, unless a sound one is here. Done before the transaction, so that
    /// others can read and write meanwhile.
    fn stage_blob(&self, id: BlobId, bytes: &[u8]) -> Result<Option<Staged<'_>>, StoreError> {
        let there = self.blob_row(id)?;
        if there
            .as_ref()
            .is_some_and(|row| self.blobs.read(id, row).is_ok())
        {
            return Ok(None);
        }
        Ok(Some(Staged {
            file: self.blobs.write(id, bytes)?,
            instead_of: there.map(|row| row.name),
        }))
    }
}

/// A blob that is not kept yet, though its file is on the disk. Dropped, it takes the file with it.
pub struct Ready<'a> {
    pub(crate) id: BlobId,
    pub(crate) bytes: Vec<u8>,
    /// Nothing where a sound file is here already.
    pub(crate) staged: Option<Staged<'a>>,
}

/// A blob's file that awaits its row.
pub(crate) struct Staged<'a> {
    file: Unused<'a>,
    /// The damaged file that it replaces.
    instead_of: Option<Name>,
}

impl<'a> Prepared<'a> {
    pub(crate) fn blob(bytes: &'a [u8]) -> Result<Self, StoreError> {
        within("a blob", bytes.len(), MAX_BLOB_BYTES)?;
        let id = name_of(bytes);
        Ok(Self::Blob { id, bytes })
    }
}

pub(crate) fn name_of(bytes: &[u8]) -> BlobId {
    BlobId(*blake3::hash(bytes).as_bytes())
}

pub(crate) fn row(database: &Connection, id: BlobId) -> Result<Option<Row>, StoreError> {
    let row = database
        .prepare_cached("SELECT length, name, key, cipher FROM blobs WHERE id = ?1")?
        .query_row(params![id.0], |row| {
            let length: usize = row.get(0)?;
            let key = Key::filled(|key| {
                row.get(2)
                    .map(|bytes: [u8; 32]| key.copy_from_slice(&bytes))
            })?;
            Ok(Row {
                length,
                name: Name(row.get(1)?),
                key,
                // One that is damaged is taken for the usual one: the file shows what it is worth.
                cipher: Cipher::numbered(row.get(3)?).unwrap_or(Cipher::NEW),
            })
        })
        .optional()?;
    match row {
        Some(row) if row.length > MAX_BLOB_BYTES => {
            Err(StoreError::Damaged(format!("the length of blob {id}")))
        }
        row => Ok(row),
    }
}

/// Gives a blob its row. `false` if there is a sound one.
pub(crate) fn put<'a>(
    database: &Connection,
    files: &'a BlobFiles,
    id: BlobId,
    bytes: &[u8],
    staged: Option<Staged<'a>>,
    effects: &mut Effects<'a>,
) -> Result<bool, StoreError> {
    let there = row(database, id)?.map(|row| row.name);
    let file = match staged {
        // Sound when looked at; or somebody else was quicker, and the staged file is dropped.
        None if there.is_some() => return Ok(false),
        Some(staged) if there.is_some() && staged.instead_of != there => return Ok(false),
        Some(staged) => staged.file,
        // Removed since it was looked at.
        None => files.write(id, bytes)?,
    };
    insert(database, id, file.row())?;
    parts::remove(database, id)?;
    effects.used.push(file);
    effects.removed.extend(there);
    Ok(true)
}

pub(crate) fn insert(database: &Connection, id: BlobId, row: &Row) -> Result<(), StoreError> {
    database
        .prepare_cached(
            "INSERT OR REPLACE INTO blobs (id, length, name, key, cipher)
             VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute(params![
            id.0,
            row.length,
            row.name.0,
            row.key.bytes(),
            row.cipher as u8
        ])?;
    Ok(())
}

pub(crate) fn remove(
    database: &Connection,
    id: BlobId,
    effects: &mut Effects<'_>,
) -> Result<bool, StoreError> {
    parts::remove(database, id)?;
    let Some(row) = row(database, id)? else {
        return Ok(false);
    };
    database
        .prepare_cached("DELETE FROM blobs WHERE id = ?1")?
        .execute(params![id.0])?;
    effects.removed.push(row.name);
    Ok(true)
}

/// The names of all blob files that rows know of.
pub(crate) fn known_files(
    database: &Connection,
) -> Result<std::collections::HashSet<Name>, StoreError> {
    let mut names = database.prepare("SELECT name FROM blobs")?;
    let names = names.query_map([], |row| row.get(0).map(Name))?;
    Ok(names.collect::<Result<_, _>>()?)
}
