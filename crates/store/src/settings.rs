//! Small named values.

use rusqlite::{Connection, OptionalExtension, params};

use crate::write::{Prepared, checksum, within};
use crate::{MAX_NAME_BYTES, MAX_SETTING_BYTES, Store, StoreError};

impl Store {
    /// The value of a setting; `None` if it was never set.
    pub fn setting(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        let found: Option<(Vec<u8>, Vec<u8>)> = self
            .database()?
            .prepare_cached("SELECT bytes, sum FROM settings WHERE name = ?1")?
            .query_row(params![name], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        found
            .map(|(bytes, sum)| checked(name, bytes, &sum))
            .transpose()
    }

    /// The names of all settings that begin so, in order; their values are not read.
    pub fn settings_under(&self, prefix: &str) -> Result<Vec<String>, StoreError> {
        let database = self.database()?;
        // Names are compared by their bytes, so those that begin alike stand together.
        let mut names =
            database.prepare_cached("SELECT name FROM settings WHERE name >= ?1 ORDER BY name")?;
        let names = names.query_map(params![prefix], |row| row.get(0))?;
        let begins = |name: &Result<String, _>| match name {
            Ok(name) => name.starts_with(prefix),
            Err(_) => true,
        };
        Ok(names.take_while(begins).collect::<Result<_, _>>()?)
    }

    /// Sets a setting.
    pub fn set_setting(&self, name: &str, bytes: &[u8]) -> Result<(), StoreError> {
        self.write_all([Prepared::setting(name, bytes)]).map(drop)
    }

    /// Removes a setting; one that is not there is no error.
    pub fn remove_setting(&self, name: &str) -> Result<(), StoreError> {
        self.write_all([Ok(Prepared::RemoveSetting(name))])
            .map(drop)
    }
}

impl<'a> Prepared<'a> {
    pub(crate) fn setting(name: &'a str, bytes: &'a [u8]) -> Result<Self, StoreError> {
        within("the name of a setting", name.len(), MAX_NAME_BYTES)?;
        within("a setting", bytes.len(), MAX_SETTING_BYTES)?;
        let sum = checksum(&[name.as_bytes()], bytes);
        Ok(Self::Setting { name, bytes, sum })
    }
}

fn checked(name: &str, bytes: Vec<u8>, sum: &[u8]) -> Result<Vec<u8>, StoreError> {
    if sum != checksum(&[name.as_bytes()], &bytes) {
        return Err(StoreError::Damaged(format!("the setting '{name}'")));
    }
    Ok(bytes)
}

pub(crate) fn set(
    database: &Connection,
    name: &str,
    bytes: &[u8],
    sum: &[u8; 32],
) -> Result<bool, StoreError> {
    let changed = database
        .prepare_cached(
            "INSERT INTO settings (name, bytes, sum) VALUES (?1, ?2, ?3)
             ON CONFLICT (name) DO UPDATE SET bytes = excluded.bytes, sum = excluded.sum",
        )?
        .execute(params![name, bytes, sum])?;
    Ok(changed > 0)
}

pub(crate) fn remove(database: &Connection, name: &str) -> Result<bool, StoreError> {
    let removed = database
        .prepare_cached("DELETE FROM settings WHERE name = ?1")?
        .execute(params![name])?;
    Ok(removed > 0)
}

pub(crate) fn remove_all_but(database: &Connection, name: &str) -> Result<(), StoreError> {
    database.execute("DELETE FROM settings WHERE name <> ?1", params![name])?;
    Ok(())
}

/// Hands every setting on as (name, bytes), in the order of the names.
pub(crate) fn each<E: From<StoreError> + From<rusqlite::Error>>(
    database: &Connection,
    mut with: impl FnMut(&str, &[u8]) -> Result<(), E>,
) -> Result<(), E> {
    let mut rows = database.prepare("SELECT name, bytes, sum FROM settings ORDER BY name")?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        let name: String = row.get(0)?;
        let bytes = checked(&name, row.get(1)?, &row.get::<_, Vec<u8>>(2)?)?;
        with(&name, &bytes)?;
    }
    Ok(())
}
