//! The folder, its lock and the files in it, readable by their owner only.

use std::fs::{DirBuilder, File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};

use crate::OpenError;

const LOCK: &str = "pothook.lock";
const DATABASE: &str = "pothook.sqlite";

/// Makes the folder if need be, locks it and hands back the lock and the database's path.
///
/// The system drops the lock with the file, also when the process is killed.
pub(crate) fn claim(folder: &Path) -> Result<(File, PathBuf), OpenError> {
    private_folder().create(folder)?;
    let lock = private_file(&folder.join(LOCK))?;
    lock.try_lock().map_err(|error| match error {
        TryLockError::WouldBlock => OpenError::InUse,
        TryLockError::Error(error) => error.into(),
    })?;
    let database = folder.join(DATABASE);
    // Made here because SQLite would let others read it; the files beside it take its mode.
    private_file(&database)?;
    Ok((lock, database))
}

fn private_folder() -> DirBuilder {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
}

fn private_file(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}
