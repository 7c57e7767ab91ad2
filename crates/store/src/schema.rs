//! The encrypted database: how it is opened and made, and the steps from one version of its tables to
//! the next.

use std::path::Path;
use std::sync::Once;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::types::ToSqlOutput;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use zeroize::Zeroizing;

use crate::disk::{Files, Step};
use crate::{Key, OpenError, StoreError};

/// Marks the file as ours in SQLite's header: "Phk1".
const APPLICATION_ID: i32 = 0x5068_6B31;

/// The version that the first step makes. Version 1 was not encrypted.
const FIRST: usize = 2;

/// Each step takes the tables one version further. A step that was published never changes.
const STEPS: [&str; 2] = [
    "
    CREATE TABLE changes (
        doc   BLOB    NOT NULL,
        seq   INTEGER NOT NULL,
        bytes BLOB    NOT NULL,
        sum   BLOB    NOT NULL,
        PRIMARY KEY (doc, seq)
    ) STRICT;
    CREATE TABLE blobs (
        id     BLOB    NOT NULL PRIMARY KEY,
        length INTEGER NOT NULL,
        name   BLOB    NOT NULL,
        key    BLOB    NOT NULL
    ) STRICT;
    CREATE TABLE parts (
        id    BLOB    NOT NULL,
        start INTEGER NOT NULL,
        bytes BLOB    NOT NULL,
        PRIMARY KEY (id, start)
    ) STRICT;
    CREATE TABLE settings (
        name  TEXT NOT NULL PRIMARY KEY,
        bytes BLOB NOT NULL,
        sum   BLOB NOT NULL
    ) STRICT;
    ",
    // How the files are sealed that were there until then: 1, see `sealed`.
    "ALTER TABLE blobs ADD COLUMN cipher INTEGER NOT NULL DEFAULT 1;",
];

/// Whether there is neither a change nor a blob.
pub(crate) fn is_empty(database: &Connection) -> Result<bool, StoreError> {
    let empty = "SELECT NOT EXISTS (SELECT 1 FROM changes) AND NOT EXISTS (SELECT 1 FROM blobs)";
    Ok(database.query_row(empty, [], |row| row.get(0))?)
}

/// Opens the database and brings its tables to the present version. `None` if this is not its key, or
/// if its first page is damaged: that cannot be told apart.
pub(crate) fn connect(path: &Path, key: &Key) -> Result<Option<Connection>, OpenError> {
    let looked_at = unlocked(path, key).and_then(|database| Ok((origin(&database)?, database)));
    let mut database = match looked_at {
        Ok((origin, database)) => origin.map(|()| database)?,
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) => {
            return Ok(None);
        }
        Err(error) => return Err(error.into()),
    };
    database.pragma_update(None, "journal_mode", "WAL")?;
    database.pragma_update(None, "synchronous", "FULL")?;
    // macOS answers a plain fsync before the disk has written.
    database.pragma_update(None, "fullfsync", true)?;
    database.pragma_update(None, "checkpoint_fullfsync", true)?;
    database.pragma_update(None, "foreign_keys", true)?;
    // What is removed is overwritten.
    database.pragma_update(None, "secure_delete", true)?;
    migrate(&mut database)?;
    Ok(Some(database))
}

/// Makes a whole new database with what `fill` puts into it, and forces it onto the disk.
///
/// It is of no use until then, so it is written without a log.
pub(crate) fn build<E: From<StoreError>>(
    files: &Files,
    path: &Path,
    key: &Key,
    fill: impl FnOnce(&Connection) -> Result<(), E>,
) -> Result<(), E> {
    let filled = || -> Result<(), E> {
        // Made here because SQLite would let others read it; the files beside it take its mode.
        let made = files.create(path.to_owned());
        drop(made.map_err(StoreError::from)?);
        let written = files.before(Step::Copy(path));
        written.map_err(StoreError::from)?;
        let database = empty(path, key).map_err(StoreError::from)?;
        fill(&database)?;
        let whole = database.execute_batch("COMMIT");
        whole.map_err(StoreError::from)?;
        let closed = database.close().map_err(|(_, error)| error);
        closed.map_err(StoreError::from)?;
        Ok(files.sync(path).map_err(StoreError::from)?)
    }();
    if filled.is_err() {
        // What is left of it now goes when the folder is opened next.
        let _ = files.unlink(path);
    }
    filled
}

/// A new database with its tables, in a transaction that is still open.
fn empty(path: &Path, key: &Key) -> Result<Connection, rusqlite::Error> {
    let mut database = unlocked(path, key)?;
    database.pragma_update(None, "journal_mode", "OFF")?;
    database.pragma_update(None, "synchronous", "OFF")?;
    migrate(&mut database)?;
    database.execute_batch("BEGIN IMMEDIATE")?;
    Ok(database)
}

/// Copies the rows of every table into a new, empty database.
pub(crate) fn copy_rows(from: &Connection, to: &Connection) -> Result<(), StoreError> {
    let mut tables = from.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'")?;
    let tables = tables.query_map([], |row| row.get(0))?;
    for table in tables.collect::<Result<Vec<String>, _>>()? {
        let mut rows = from.prepare(&format!("SELECT * FROM {table} ORDER BY rowid"))?;
        let columns = rows.column_count();
        let values = vec!["?"; columns].join(", ");
        let mut insert = to.prepare(&format!("INSERT INTO {table} VALUES ({values})"))?;
        let mut rows = rows.query([])?;
        while let Some(row) = rows.next()? {
            for column in 0..columns {
                let value = ToSqlOutput::Borrowed(row.get_ref(column)?);
                insert.raw_bind_parameter(column + 1, value)?;
            }
            insert.raw_execute()?;
        }
    }
    Ok(())
}

/// SQLite counts itself as ready a moment before its cipher is, and a second thread that opens its first
/// database in that moment is told that the key cannot be set. So one thread opens one first, and the
/// others wait for it.
fn ready() {
    static READY: Once = Once::new();
    // What keeps it from opening keeps the real one from opening too, and is told there.
    READY.call_once(|| drop(Connection::open_in_memory()));
}

fn unlocked(path: &Path, key: &Key) -> Result<Connection, rusqlite::Error> {
    ready();
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let database = Connection::open_with_flags(path, flags)?;
    // What the database lets go of in memory is overwritten, and kept out of swap where it can be.
    database.pragma_update(None, "cipher_memory_security", true)?;
    // A key that does not fit is no matter for the terminal.
    database.pragma_update(None, "cipher_log_level", "NONE")?;
    let hex = Zeroizing::new(
        key.bytes()
            .iter()
            .fold(String::with_capacity(2 * Key::LENGTH), |hex, byte| {
                hex + &format!("{byte:02x}")
            }),
    );
    let pragma = Zeroizing::new(format!("PRAGMA key = \"x'{}'\"", *hex));
    database.execute_batch(&pragma)?;
    database.busy_timeout(Duration::from_secs(2))?;
    // One process at a time: no shared memory is needed, and no other program can write between.
    database.pragma_update(None, "locking_mode", "EXCLUSIVE")?;
    database.pragma_update(None, "temp_store", "MEMORY")?;
    // 16 MiB: a page that was read is not decrypted again.
    database.pragma_update(None, "cache_size", -16_384)?;
    database.set_prepared_statement_cache_capacity(64);
    // Else some statements are worked out anew each time, for the values at hand.
    database.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    Ok(database)
}

fn number(database: &Connection, pragma: &str) -> Result<i64, rusqlite::Error> {
    database.pragma_query_value(None, pragma, |row| row.get(0))
}

/// Refuses, before anything is written, a file that is not ours or newer than we know.
fn origin(database: &Connection) -> Result<Result<(), OpenError>, rusqlite::Error> {
    let version = number(database, "user_version")?;
    let ours = number(database, "application_id")? == i64::from(APPLICATION_ID);
    Ok(match u32::try_from(version) {
        Ok(version) if ours && version as usize >= FIRST + STEPS.len() => {
            Err(OpenError::Newer { version })
        }
        Ok(version) if ours && version as usize >= FIRST => Ok(()),
        _ => Err(OpenError::NotADatabase),
    })
}

fn migrate(database: &mut Connection) -> Result<(), rusqlite::Error> {
    let version = number(database, "user_version")?;
    let done = usize::try_from(version).map_or(0, |version| (version + 1).saturating_sub(FIRST));
    for (index, step) in STEPS.iter().enumerate().skip(done) {
        let transaction = database.transaction()?;
        transaction.execute_batch(step)?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", (FIRST + index) as i64)?;
        transaction.commit()?;
    }
    Ok(())
}
