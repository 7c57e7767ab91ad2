//! A backup: the whole store in one file, under a passphrase of its own.
//!
//! The file is in the age format (<https://age-encryption.org/v1>) for one passphrase; what is inside
//! is described in [`records`]. One blob at a time is in memory, however large the store is.

mod envelope;
mod records;

use std::ffi::OsString;
use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use self::records::{Record, Writer};
use crate::blob_files::{BlobFiles, Unused};
use crate::open::Claimed;
use crate::settings;
use crate::write::{Effects, Prepared};
use crate::{BackupError, Opener, Passphrase, Store, StoreError, Surroundings, changes, schema};

/// What a backup holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct BackupReport {
    /// Documents that have changes.
    pub documents: u64,
    /// Changes of all documents.
    pub changes: u64,
    /// Settings.
    pub settings: u64,
    /// Blobs.
    pub blobs: u64,
    /// Bytes of the file.
    pub bytes: u64,
}

/// What becomes of a setting as it is restored, by its name and value: the name and value that it comes back
/// with; `None` where it does not.
pub type RestoredSetting<'f> = dyn Fn(&str, &[u8]) -> Option<(String, Vec<u8>)> + 'f;

impl Store {
    /// Writes everything into one new file: changes, settings and blobs, without what is still on its
    /// way. It gets its name only after it has been read back and found whole.
    ///
    /// Others can go on reading and writing: changes and settings are those of one moment, and a blob
    /// that is removed while the file is being written may be left out.
    pub fn backup(&self, to: &Path, passphrase: &Passphrase) -> Result<BackupReport, BackupError> {
        refuse_existing(to)?;
        let beside = beside(to)?;
        let written = self
            .write_backup(&beside, passphrase)
            .and_then(|report| self.name_backup(&beside, to, passphrase, report));
        if written.is_err() {
            let _ = self.files.unlink(&beside);
        }
        written
    }

    /// Reads a backup from beginning to end.
    pub fn check_backup(file: &Path, passphrase: &Passphrase) -> Result<BackupReport, BackupError> {
        read(file, passphrase, |_| Ok(()))
    }

    /// Makes a store from a backup, in a folder that has none, and opens it. Cut short, or with a
    /// damaged backup, there is no store.
    ///
    /// The new store has a key of its own; it is opened by `opener`, and not by the backup's
    /// passphrase.
    pub fn restore(
        file: &Path,
        passphrase: &Passphrase,
        folder: &Path,
        opener: &Opener,
    ) -> Result<Self, BackupError> {
        Self::restore_in(file, passphrase, folder, opener, &Surroundings::default())
    }

    /// [`Store::restore`] with a disk and a keyring of the caller's.
    pub fn restore_in(
        file: &Path,
        passphrase: &Passphrase,
        folder: &Path,
        opener: &Opener,
        around: &Surroundings,
    ) -> Result<Self, BackupError> {
        Self::restore_as(file, passphrase, folder, opener, around, &|name, bytes| {
            Some((name.to_owned(), bytes.to_vec()))
        })
    }

    /// [`Store::restore_in`], with other settings: `setting` is told the name and the value of each and
    /// gives those with which it comes back, or `None` where it is left out.
    pub fn restore_as(
        file: &Path,
        passphrase: &Passphrase,
        folder: &Path,
        opener: &Opener,
        around: &Surroundings,
        setting: &RestoredSetting<'_>,
    ) -> Result<Self, BackupError> {
        let backup = envelope::open(file, passphrase)?;
        let claimed = Claimed::claim(folder, around)?;
        if claimed.has_store()? {
            return Err(BackupError::StoreThere);
        }
        claimed.make(opener, |database, blobs| {
            // If the making fails, every blob file goes.
            let with = |record: Record<'_>| {
                let used = bring_back(database, blobs, record, setting)?;
                used.into_iter().for_each(Unused::keep);
                Ok(())
            };
            records::read(backup, with).map(drop)
        })
    }

    /// Brings a backup into this store, which has neither changes nor blobs yet: all of it or, cut short or
    /// with a damaged backup, nothing. Of the settings that were here only `keep` stays.
    pub fn take_in(
        &self,
        file: &Path,
        passphrase: &Passphrase,
        keep: &str,
        setting: &RestoredSetting<'_>,
    ) -> Result<BackupReport, BackupError> {
        let backup = envelope::open(file, passphrase)?;
        let bytes = fs::metadata(file)?.len();
        self.commit(|database| {
            if !schema::is_empty(database)? {
                return Err(BackupError::StoreThere);
            }
            settings::remove_all_but(database, keep)?;
            let mut used = Vec::new();
            let report = records::read(backup, |record| {
                used.extend(bring_back(database, &self.blobs, record, setting)?);
                Ok(())
            })?;
            // A commit may reach the disk and fail all the same; so the files stay from here on.
            used.into_iter().for_each(Unused::keep);
            Ok(BackupReport { bytes, ..report })
        })
    }

    fn write_backup(
        &self,
        path: &Path,
        passphrase: &Passphrase,
    ) -> Result<BackupReport, BackupError> {
        let file = BufWriter::new(self.files.create(path.to_owned())?);
        let mut records = Writer::new(envelope::seal(file, passphrase)?)?;
        {
            let database = self.database()?;
            changes::each(&database, |doc, seq, bytes| {
                records.put(&Record::Change { doc, seq, bytes })
            })?;
            settings::each(&database, |name, bytes| {
                records.put(&Record::Setting { name, bytes })
            })?;
        }
        for id in self.blobs()? {
            if let Some(bytes) = self.blob(id)? {
                records.put(&Record::Blob { id, bytes: &bytes })?;
            }
        }
        let (sealed, report) = records.finish()?;
        let mut file = sealed.finish()?;
        file.flush()?;
        file.get_ref().sync()?;
        Ok(report)
    }

    fn name_backup(
        &self,
        beside: &Path,
        to: &Path,
        passphrase: &Passphrase,
        written: BackupReport,
    ) -> Result<BackupReport, BackupError> {
        let report = Self::check_backup(beside, passphrase)?;
        if (BackupReport { bytes: 0, ..report }) != written {
            return Err(BackupError::Damaged(
                "it holds less than was written".to_owned(),
            ));
        }
        refuse_existing(to)?;
        self.files.rename(beside, to)?;
        self.files.sync_folder(folder_of(to))?;
        Ok(report)
    }
}

/// Reads a backup file and hands each record on.
fn read(
    file: &Path,
    passphrase: &Passphrase,
    with: impl FnMut(Record<'_>) -> Result<(), BackupError>,
) -> Result<BackupReport, BackupError> {
    let report = records::read(envelope::open(file, passphrase)?, with)?;
    let bytes = fs::metadata(file)?.len();
    Ok(BackupReport { bytes, ..report })
}

/// Puts one record into a store, and says which blob files that made.
fn bring_back<'f>(
    database: &Connection,
    files: &'f BlobFiles,
    record: Record<'_>,
    setting: &RestoredSetting<'_>,
) -> Result<Vec<Unused<'f>>, BackupError> {
    let mut effects = Effects::default();
    let mut put = |write: Result<Prepared<'_>, StoreError>| {
        let made = write.and_then(|write| write.make(database, files, None, &mut effects));
        made.map_err(|error| match error {
            StoreError::TooLarge { .. } => BackupError::Damaged(error.to_string()),
            other => other.into(),
        })
    };
    match record {
        Record::Change { doc, seq, bytes } => put(Prepared::change(doc, seq, bytes))?,
        Record::Blob { id, bytes } => put(Ok(Prepared::Blob { id, bytes }))?,
        Record::Setting { name, bytes } => match setting(name, bytes) {
            Some((name, bytes)) => put(Prepared::setting(&name, &bytes))?,
            None => false,
        },
    };
    Ok(effects.used)
}

fn refuse_existing(path: &Path) -> Result<(), BackupError> {
    match fs::symlink_metadata(path) {
        Ok(_) => Err(BackupError::Exists),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(error) => Err(error.into()),
    }
}

/// A name that nobody has, in the same folder.
fn beside(to: &Path) -> Result<PathBuf, BackupError> {
    let number = getrandom::u32().map_err(io::Error::from)?;
    let mut name = OsString::from(to.file_name().unwrap_or_default());
    name.push(format!(".{number:08x}.part"));
    Ok(to.with_file_name(name))
}

fn folder_of(file: &Path) -> &Path {
    match file.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    }
}
