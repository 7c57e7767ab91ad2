//! The open data folder.

use std::fmt;
use std::fs::File;
use std::ops::Deref;
use std::sync::{Mutex, MutexGuard, PoisonError};

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::blob_files::BlobFiles;
use crate::disk::{Files, Step};
use crate::folder::Folder;
use crate::keys::Keys;
use crate::{Holder, Opener, StoreError, changes, settings};

/// The data folder of one device, held by this process alone until dropped.
///
/// Every write is on the disk when the call returns.
pub struct Store {
    // Fields drop in order: the database is closed before the lock is let go.
    /// `None` after a failure that left no database to go on with.
    pub(crate) database: Mutex<Option<Connection>>,
    /// Locked before the database by whoever locks both.
    pub(crate) keys: Mutex<Keys>,
    /// Beside the keys, which are held while a keyring is waited for.
    pub(crate) holder: Mutex<Holder>,
    pub(crate) blobs: BlobFiles,
    pub(crate) files: Files,
    pub(crate) folder: Folder,
    pub(crate) _lock: File,
}

impl Store {
    /// Who holds the key of this folder.
    pub fn holder(&self) -> Holder {
        *locked(&self.holder)
    }

    /// Gives the key of this folder into another's hands; what opened it before does so no more. The
    /// database stays as it is.
    ///
    /// A copy of the key file that somebody made before still opens with what it opened with then,
    /// until [`Store::renew_key`].
    pub fn change_opener(&self, opener: &Opener) -> Result<(), StoreError> {
        let mut keys = locked(&self.keys);
        let changed = keys.change_opener(opener);
        *locked(&self.holder) = keys.holder();
        changed
    }

    /// Reads everything and reports the first damage found.
    pub fn check(&self) -> Result<(), StoreError> {
        {
            let database = self.database()?;
            let verdict: String =
                database.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
            if verdict != "ok" {
                return Err(StoreError::Damaged(verdict));
            }
            changes::each::<StoreError>(&database, |_, _, _| Ok(()))?;
            settings::each::<StoreError>(&database, |_, _| Ok(()))?;
        }
        for id in self.blobs()? {
            self.blob(id)?;
        }
        Ok(())
    }

    /// Makes all that `work` writes durable, or nothing of it.
    pub(crate) fn commit<T, E: From<StoreError>>(
        &self,
        work: impl FnOnce(&Connection) -> Result<T, E>,
    ) -> Result<T, E> {
        let mut database = self.database()?;
        let transaction = Transaction::new(database.get(), TransactionBehavior::Immediate)
            .map_err(StoreError::from)?;
        let done = work(&transaction)?;
        self.files.before(Step::Commit).map_err(StoreError::from)?;
        transaction.commit().map_err(StoreError::from)?;
        Ok(done)
    }

    pub(crate) fn database(&self) -> Result<Database<'_>, StoreError> {
        // A panic while the lock was held has rolled its transaction back.
        let database = locked(&self.database);
        match *database {
            Some(_) => Ok(Database(database)),
            None => Err(StoreError::Closed),
        }
    }
}

impl fmt::Debug for Store {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let path = self.folder.path();
        f.debug_struct("Store")
            .field("folder", &path)
            .finish_non_exhaustive()
    }
}

pub(crate) fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The open database, held.
pub(crate) struct Database<'a>(MutexGuard<'a, Option<Connection>>);

const OPEN: &str = "looked at when it was taken hold of";

impl Database<'_> {
    fn get(&mut self) -> &mut Connection {
        self.0.as_mut().expect(OPEN)
    }
}

impl Deref for Database<'_> {
    type Target = Connection;
    fn deref(&self) -> &Connection {
        self.0.as_ref().expect(OPEN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Key, Write};

    fn open(folder: &std::path::Path) -> Store {
        Store::open(folder, &Opener::Key(Key::new([7; 32]))).unwrap()
    }

    #[test]
    fn a_database_that_may_not_grow_is_full_and_loses_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let store = open(folder.path());
        store.append(b"doc", 1, b"one").unwrap();
        let number = |pragma: &str| -> i64 {
            let database = store.database().unwrap();
            database.query_row(pragma, [], |row| row.get(0)).unwrap()
        };
        let pages = number("PRAGMA page_count");
        number(&format!("PRAGMA max_page_count = {}", pages + 4));

        let writes = vec![
            Write::Setting {
                name: "half".into(),
                bytes: b"there".to_vec(),
            },
            Write::Blob(vec![7; 1000]),
            Write::Change {
                doc: b"doc".to_vec(),
                seq: 2,
                bytes: vec![7; 100_000],
            },
        ];
        assert!(matches!(store.transaction(writes), Err(StoreError::Full)));

        assert_eq!(store.setting("half").unwrap(), None);
        assert_eq!(store.blobs().unwrap(), []);
        assert_eq!(store.changes(b"doc", 0..).unwrap(), [(1, b"one".to_vec())]);
        assert!(store.append(b"doc", 2, b"two").unwrap());
        store.check().unwrap();
    }

    /// Starting must not read the changes themselves.
    #[test]
    fn documents_are_listed_from_an_index_alone() {
        let folder = tempfile::tempdir().unwrap();
        let store = open(folder.path());
        let database = store.database().unwrap();
        let plan: String = database
            .query_row(
                &format!("EXPLAIN QUERY PLAN {}", changes::DOCS),
                [],
                |row| row.get(3),
            )
            .unwrap();
        assert!(plan.contains("USING COVERING INDEX"), "{plan}");
    }

    /// What the folder's safety rests on; a spelling mistake in a pragma would say nothing.
    #[test]
    fn the_database_is_set_up_as_it_should_be() {
        let folder = tempfile::tempdir().unwrap();
        let store = open(folder.path());
        let database = store.database().unwrap();
        let text = |pragma: &str| -> String {
            let value = database.pragma_query_value(None, pragma, |row| {
                row.get_ref(0).map(|value| match value {
                    rusqlite::types::ValueRef::Integer(number) => number.to_string(),
                    other => other.as_str().unwrap().to_owned(),
                })
            });
            value.unwrap()
        };
        for (pragma, value) in [
            ("journal_mode", "wal"),
            ("locking_mode", "exclusive"),
            ("synchronous", "2"),
            ("fullfsync", "1"),
            ("checkpoint_fullfsync", "1"),
            ("secure_delete", "1"),
            ("temp_store", "2"),
            ("cipher_use_hmac", "1"),
            ("cipher_memory_security", "1"),
        ] {
            assert_eq!(text(pragma), value, "{pragma}");
        }
        assert!(text("cipher_version").starts_with('4'));
    }
}
