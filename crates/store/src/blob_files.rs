//! The files of the blobs: one each, sealed under its own key, with a name that tells nothing.
//!
//! The row in the database holds name and key. A file without a row is rubbish that nobody can read:
//! left by a power cut between file and row, or between a removed row and its file. It is swept when
//! the folder is opened.

use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use units::BlobId;

use crate::disk::Files;
use crate::sealed::{self, Cipher};
use crate::{Key, StoreError};

/// What a row of the database knows of a blob.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Row {
    /// Bytes in the blob.
    pub length: usize,
    pub name: Name,
    pub key: Key,
    pub cipher: Cipher,
}

/// Random; says nothing of the blob.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Name(pub [u8; 16]);

impl Name {
    fn random() -> io::Result<Self> {
        let mut name = [0; 16];
        getrandom::fill(&mut name)?;
        Ok(Self(name))
    }

    fn parse(text: &str) -> Option<Self> {
        let byte = |at| u8::from_str_radix(text.get(at..at + 2)?, 16).ok();
        let mut name = [0; 16];
        for (index, slot) in name.iter_mut().enumerate() {
            *slot = byte(2 * index)?;
        }
        let name = Self(name);
        (name.to_string() == text).then_some(name)
    }
}

impl std::fmt::Display for Name {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// The folder of the blobs.
pub(crate) struct BlobFiles {
    pub root: PathBuf,
    pub files: Files,
}

impl BlobFiles {
    fn path(&self, name: Name) -> PathBuf {
        // A folder for each first byte, so that none grows long.
        self.root
            .join(format!("{:02x}", name.0[0]))
            .join(name.to_string())
    }

    /// Seals the bytes into a new file that is on the disk when this returns.
    pub(crate) fn write(&self, id: BlobId, bytes: &[u8]) -> io::Result<Unused<'_>> {
        let row = Row {
            length: bytes.len(),
            name: Name::random()?,
            key: Key::random()?,
            cipher: Cipher::NEW,
        };
        let path = self.path(row.name);
        let folder = path.parent().unwrap_or(&self.root);
        self.files.make_folder(folder)?;
        // From here on a failure takes the file with it.
        let unused = Unused {
            row,
            blobs: Some(self),
        };
        let mut file = self.files.create(path.clone())?;
        sealed::write(&unused.row.key, id, bytes, &mut file)?;
        file.sync()?;
        self.files.sync_folder(folder)?;
        Ok(unused)
    }

    /// The blob, checked against its name.
    pub(crate) fn read(&self, id: BlobId, row: &Row) -> Result<Vec<u8>, StoreError> {
        let damaged = || StoreError::Damaged(format!("blob {id}"));
        let file = match File::open(self.path(row.name)) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Err(damaged()),
            opened => opened?,
        };
        // Compared first, so that no more memory is taken than the blob needs.
        let length = sealed::sealed_length(row.length);
        if file.metadata()?.len() != length as u64 {
            return Err(damaged());
        }
        let mut bytes = Vec::with_capacity(length);
        file.take(length as u64).read_to_end(&mut bytes)?;
        let bytes = sealed::open(row.cipher, &row.key, id, bytes).ok_or_else(damaged)?;
        if bytes.len() != row.length || blake3::hash(&bytes) != id.0 {
            return Err(damaged());
        }
        Ok(bytes)
    }

    /// Removes a file whose row is gone. One that cannot be removed is swept later.
    pub(crate) fn unlink(&self, name: Name) {
        let _ = self.files.unlink(&self.path(name));
    }

    /// Removes every file that no row knows.
    pub(crate) fn sweep(&self, known: &HashSet<Name>) -> io::Result<()> {
        for folder in entries(&self.root)? {
            if fs::symlink_metadata(&folder)?.is_dir() {
                for file in entries(&folder)? {
                    let name = file
                        .file_name()
                        .and_then(|name| Name::parse(name.to_str()?));
                    // What has another kind of name is not ours.
                    if name.is_some_and(|name| !known.contains(&name) && self.path(name) == file) {
                        self.files.unlink(&file)?;
                    }
                }
            }
        }
        Ok(())
    }
}

/// What lies in a folder, in order; nothing if it is not there.
fn entries(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    let mut paths = entries
        .map(|entry| Ok(entry?.path()))
        .collect::<io::Result<Vec<_>>>()?;
    paths.sort();
    Ok(paths)
}

/// A file that no row knows yet. Dropped unused, it is removed.
pub(crate) struct Unused<'a> {
    row: Row,
    blobs: Option<&'a BlobFiles>,
}

impl Unused<'_> {
    pub(crate) fn row(&self) -> &Row {
        &self.row
    }

    /// The file stays, whatever becomes of it.
    pub(crate) fn keep(mut self) {
        self.blobs = None;
    }
}

impl Drop for Unused<'_> {
    fn drop(&mut self) {
        if let Some(blobs) = self.blobs {
            blobs.unlink(self.row.name);
        }
    }
}
