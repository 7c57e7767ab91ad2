//! The key file in its folder: read, and replaced so that one whole file is there at every moment.
//!
//! Without it everything else is lost, so it is never written over. The new file is written beside it
//! and forced onto the disk; the old one steps aside, the new one takes its name, and the old one is
//! overwritten. [`settle`] finishes, or takes back, what a power cut left between these steps:
//!
//! | there is | then |
//! |---|---|
//! | the file, and a new one | the new one may be half written: it goes |
//! | an old one and a new one | the new one is whole: it takes the name |
//! | the file, and an old one | the old one goes |
//! | only a new one | the folder's first key file was never finished: it goes |

use std::fs::File;
use std::io::{self, Read, Write};

use crate::OpenError;
use crate::disk::Files;
use crate::folder::Folder;
use crate::key_file::{KeyFile, LONGEST};

/// The folder's key file, as [`settle`] would leave it; `None` if there is none.
pub(crate) fn read(folder: &Folder) -> Result<Option<KeyFile>, OpenError> {
    let mut path = folder.key();
    if !path.try_exists()? && folder.old_key().try_exists()? {
        path = next_of(folder)?;
    }
    let file = match File::open(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        opened => opened?,
    };
    let mut bytes = Vec::new();
    // One more than it may have, so that a longer file is not taken for whole.
    file.take(LONGEST as u64 + 1).read_to_end(&mut bytes)?;
    KeyFile::decode(&bytes).map(Some)
}

/// What takes the name when nothing has it.
fn next_of(folder: &Folder) -> io::Result<std::path::PathBuf> {
    let new = folder.new_key();
    Ok(if new.try_exists()? {
        new
    } else {
        folder.old_key()
    })
}

/// Finishes or takes back an interrupted [`replace`].
pub(crate) fn settle(files: &Files, folder: &Folder) -> io::Result<()> {
    if !folder.key().try_exists()? && folder.old_key().try_exists()? {
        files.rename(&next_of(folder)?, &folder.key())?;
        files.sync_folder(folder.path())?;
    }
    files.wipe(&folder.new_key())?;
    files.wipe(&folder.old_key())
}

/// Puts this key file in the place of the one that is there, if there is one, and overwrites that.
pub(crate) fn replace(files: &Files, folder: &Folder, file: &KeyFile) -> io::Result<()> {
    let replaced = write_beside(files, folder, file).and_then(|()| swap(files, folder));
    if replaced.is_err() {
        // Back to the file that was there, as far as the disk lets us.
        let _ = take_back(files, folder);
    }
    replaced?;
    // What is left of it now goes when the folder is opened next.
    let _ = files.wipe(&folder.old_key());
    Ok(())
}

fn write_beside(files: &Files, folder: &Folder, file: &KeyFile) -> io::Result<()> {
    settle(files, folder)?;
    let mut new = files.create(folder.new_key())?;
    new.write_all(&file.encode())?;
    new.sync()
}

fn swap(files: &Files, folder: &Folder) -> io::Result<()> {
    if folder.key().try_exists()? {
        files.rename(&folder.key(), &folder.old_key())?;
    }
    files.rename(&folder.new_key(), &folder.key())?;
    // Whichever of the two a power cut undoes, a whole file is found; but only until one goes.
    files.sync_folder(folder.path())
}

fn take_back(files: &Files, folder: &Folder) -> io::Result<()> {
    if !folder.key().try_exists()? && folder.old_key().try_exists()? {
        files.rename(&folder.old_key(), &folder.key())?;
        files.sync_folder(folder.path())?;
    }
    files.wipe(&folder.new_key())
}
