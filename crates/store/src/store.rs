//! The open data folder.

use std::fs::File;
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::write::Prepared;
use crate::{OpenError, StoreError, Write, folder, schema};

/// The data folder of one device, held by this process alone until dropped.
///
/// Every write is on the disk when the call returns.
#[derive(Debug)]
pub struct Store {
    // Fields drop in order: the database is closed before the lock is let go.
    database: Mutex<Connection>,
    _lock: File,
}

impl Store {
    /// Opens the folder, making it if it is not there.
    pub fn open(folder: &Path) -> Result<Self, OpenError> {
        let (lock, path) = folder::claim(folder)?;
        let database = schema::connect(&path)?;
        Ok(Self {
            database: Mutex::new(database),
            _lock: lock,
        })
    }

    /// Makes all of the writes or, if one of them is refused, none.
    pub fn transaction(&self, writes: Vec<Write>) -> Result<(), StoreError> {
        self.write_all(writes.iter().map(Write::prepare)).map(drop)
    }

    /// Reads the whole database and reports the first damage found.
    pub fn check(&self) -> Result<(), StoreError> {
        let database = self.database();
        let verdict: String =
            database.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
        if verdict != "ok" {
            return Err(StoreError::Damaged(verdict));
        }
        crate::blobs::check_all(&database)?;
        crate::changes::check_all(&database)?;
        crate::settings::check_all(&database)
    }

    /// The number of writes that were new, after all have been made in one transaction.
    pub(crate) fn write_all<'a>(
        &self,
        writes: impl IntoIterator<Item = Result<Prepared<'a>, StoreError>>,
    ) -> Result<usize, StoreError> {
        // Hashing and bounds come first, outside the lock.
        let writes = writes.into_iter().collect::<Result<Vec<_>, _>>()?;
        let mut database = self.database();
        let transaction = Transaction::new(&mut database, TransactionBehavior::Immediate)?;
        let mut new = 0;
        for write in &writes {
            new += usize::from(write.make(&transaction)?);
        }
        transaction.commit()?;
        Ok(new)
    }

    pub(crate) fn database(&self) -> MutexGuard<'_, Connection> {
        // A panic while the lock was held has rolled its transaction back.
        self.database.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_database_that_may_not_grow_is_full_and_loses_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        store.append(b"doc", 1, b"one").unwrap();
        let pages: i64 = store
            .database()
            .query_row("PRAGMA page_count", [], |row| row.get(0))
            .unwrap();
        let limit = format!("PRAGMA max_page_count = {}", pages + 4);
        store
            .database()
            .query_row(&limit, [], |row| row.get::<_, i64>(0))
            .unwrap();

        let writes = vec![
            Write::Setting {
                name: "half".into(),
                bytes: b"there".to_vec(),
            },
            Write::Blob(vec![7; 100_000]),
        ];
        assert!(matches!(store.transaction(writes), Err(StoreError::Full)));

        assert_eq!(store.setting("half").unwrap(), None);
        assert_eq!(store.changes(b"doc", 0..).unwrap(), [(1, b"one".to_vec())]);
        assert!(store.append(b"doc", 2, b"two").unwrap());
        store.check().unwrap();
    }
}
