//! A new key for the database, and the end of the old one.
//!
//! Removed rows live on where a disk keeps old copies of what was overwritten, and removed files where
//! their blocks were. All of it is sealed: rows under the database's key, files under keys that stood
//! in rows. So what makes an end of it is that nobody has the old key any more.
//!
//! 1. The next key is kept beside the present one.
//! 2. The rows are copied into a new database under the next key, which is forced onto the disk.
//! 3. The old database is closed, its log with it, and the new one takes its name.
//! 4. Only the next key is kept.
//!
//! Cut short anywhere, the folder opens with one of the two keys, and goes on from there.

#[cfg(test)]
mod tests;

use rusqlite::Connection;

use crate::keys::Keys;
use crate::store::locked;
use crate::{Key, Store, StoreError, open, schema};

impl Store {
    /// Puts the database under a new random key and destroys the old one. After this, what is left on
    /// this disk of anything that was removed can be read by nobody.
    ///
    /// What it cannot promise: a copy of the whole folder that was made elsewhere before (a backup of
    /// the system, a snapshot) still opens with its own passphrase or key. Only where the keyring held
    /// the key can such a copy be read no more, because the old key was nowhere in the folder. The old
    /// key file is overwritten; a disk that writes elsewhere than it was told may keep its bytes for a
    /// while, and whoever then has them and the passphrase has the old key.
    ///
    /// Needs as much room on the disk as the database has, without the blobs.
    ///
    /// # Errors
    /// Nothing is lost by one, not by a keyring either that answers after it was given up. A renewal that was
    /// begun is made again when the folder is opened next.
    pub fn renew_key(&self) -> Result<(), StoreError> {
        let mut keys = locked(&self.keys);
        // First, to make room.
        self.database().and_then(|old| empty_log(&old))?;
        // Never one that an earlier attempt left: what was removed since may lie under it too.
        let next = Key::random()?;
        let both = vec![keys.current().clone(), next.clone()];
        // A keyring may take its time here and below; reading and writing do not wait for it.
        keys.set(both)?;
        self.renew_database(&mut keys, &next)?;
        keys.set(vec![next])
    }

    /// Puts the database under a key that is kept already.
    fn renew_database(&self, keys: &mut Keys, next: &Key) -> Result<(), StoreError> {
        let mut database = locked(&self.database);
        let old = database.as_ref().ok_or(StoreError::Closed)?;
        let new = self.folder.new_database();
        self.files.unlink(&new)?;
        schema::build(&self.files, &new, next, |new| schema::copy_rows(old, new))?;
        if let Some(old) = database.take()
            && let Err((old, error)) = old.close()
        {
            *database = Some(old);
            return Err(error.into());
        }
        if let Err(error) = self.swap_databases() {
            // The old one is still in its place.
            *database = Some(open::connect(&self.folder, keys)?);
            return Err(error);
        }
        // If this fails, nobody knows which of the two a power cut would leave: nothing more is
        // written before the folder is opened anew.
        self.files.sync_folder(self.folder.path())?;
        *database = Some(open::connect(&self.folder, keys)?);
        Ok(())
    }

    fn swap_databases(&self) -> Result<(), StoreError> {
        // SQLite would take a log that stayed for that of the new database.
        if self.folder.log().try_exists()? {
            return Err(StoreError::Disk("the database's log stayed".to_owned()));
        }
        let new = self.folder.new_database();
        Ok(self.files.rename(&new, &self.folder.database())?)
    }
}

/// Brings everything from the log into the database.
fn empty_log(database: &Connection) -> Result<(), StoreError> {
    let busy: bool = database.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))?;
    if busy {
        Err(StoreError::Locked)
    } else {
        Ok(())
    }
}
