//! The tables and the steps from one version of them to the next.

use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use crate::OpenError;

/// Marks the file as ours in SQLite's header: "Phk1".
const APPLICATION_ID: i32 = 0x5068_6B31;

/// Step n takes the tables from version n to n + 1. A step that was published never changes.
const STEPS: [&str; 1] = ["
    CREATE TABLE changes (
        doc   BLOB    NOT NULL,
        seq   INTEGER NOT NULL,
        bytes BLOB    NOT NULL,
        sum   BLOB    NOT NULL,
        PRIMARY KEY (doc, seq)
    ) STRICT;
    CREATE TABLE blobs (
        id    BLOB NOT NULL PRIMARY KEY,
        bytes BLOB NOT NULL
    ) STRICT;
    CREATE TABLE settings (
        name  TEXT NOT NULL PRIMARY KEY,
        bytes BLOB NOT NULL,
        sum   BLOB NOT NULL
    ) STRICT;
"];

/// Opens the database and brings its tables to the present version.
pub(crate) fn connect(path: &Path) -> Result<Connection, OpenError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut database = Connection::open_with_flags(path, flags)?;
    database.busy_timeout(Duration::from_secs(2))?;
    // One process at a time: no shared memory is needed, and no other program can write between.
    database.pragma_update(None, "locking_mode", "EXCLUSIVE")?;
    check_origin(&database)?;
    database.pragma_update(None, "journal_mode", "WAL")?;
    database.pragma_update(None, "synchronous", "FULL")?;
    // macOS answers a plain fsync before the disk has written.
    database.pragma_update(None, "fullfsync", true)?;
    database.pragma_update(None, "checkpoint_fullfsync", true)?;
    database.pragma_update(None, "foreign_keys", true)?;
    // What is removed is overwritten.
    database.pragma_update(None, "secure_delete", true)?;
    migrate(&mut database)?;
    Ok(database)
}

fn number(database: &Connection, pragma: &str) -> Result<i64, rusqlite::Error> {
    database.pragma_query_value(None, pragma, |row| row.get(0))
}

/// Refuses, before anything is written, a file that is not ours or newer than we know.
fn check_origin(database: &Connection) -> Result<(), OpenError> {
    let tables: i64 =
        database.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    let ours = number(database, "application_id")? == i64::from(APPLICATION_ID);
    if tables > 0 && !ours {
        return Err(OpenError::NotADatabase);
    }
    let version = number(database, "user_version")?;
    match u32::try_from(version) {
        Ok(version) if version as usize > STEPS.len() => Err(OpenError::Newer { version }),
        Ok(_) => Ok(()),
        Err(_) => Err(OpenError::NotADatabase),
    }
}

fn migrate(database: &mut Connection) -> Result<(), OpenError> {
    let version = number(database, "user_version")? as usize;
    for (done, step) in STEPS.iter().enumerate().skip(version) {
        let transaction = database.transaction()?;
        transaction.execute_batch(step)?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", done as i64 + 1)?;
        transaction.commit()?;
    }
    Ok(())
}
