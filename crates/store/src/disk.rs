//! Every step that makes something durable, and the door through which a test makes one fail.

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What is about to happen to the disk or to the keyring, with where.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step<'a> {
    /// A folder is made.
    MakeFolder(&'a Path),
    /// An empty file is made.
    Create(&'a Path),
    /// Bytes are written to a file.
    Write(&'a Path),
    /// A file's bytes are forced onto the disk.
    Sync(&'a Path),
    /// A folder's list of names is forced onto the disk.
    SyncFolder(&'a Path),
    /// A file takes another name, in place of any file of that name.
    Rename(&'a Path, &'a Path),
    /// A file is removed.
    Unlink(&'a Path),
    /// A transaction of the database is made durable.
    Commit,
    /// The database is copied into this file.
    Copy(&'a Path),
    /// The keyring keeps a secret of this name.
    KeepSecret(&'a str),
    /// The keyring removes the secret of this name.
    RemoveSecret(&'a str),
}

/// Asked before every step. An error is taken for the system's own error at this place.
///
/// The disk itself is `()`, which never objects. A test counts the steps, fails one of them, or looks
/// at what a power cut at this moment would leave.
pub trait Disk: Send + Sync {
    /// What the system would say to this step; nothing, unless a test says otherwise.
    fn before(&self, step: Step<'_>) -> io::Result<()> {
        let _ = step;
        Ok(())
    }
}

impl Disk for () {}

/// The files of a folder, written so that they last.
#[derive(Clone)]
pub(crate) struct Files(Arc<dyn Disk>);

impl Files {
    pub(crate) fn on(disk: Arc<dyn Disk>) -> Self {
        Self(disk)
    }

    pub(crate) fn before(&self, step: Step<'_>) -> io::Result<()> {
        self.0.before(step)
    }

    /// Makes a folder for its owner only, and the folders above it, where they are not there.
    pub(crate) fn make_folder(&self, path: &Path) -> io::Result<()> {
        if path.is_dir() {
            return Ok(());
        }
        let above = match path.parent() {
            Some(above) if above != Path::new("") => above,
            _ => Path::new("."),
        };
        self.make_folder(above)?;
        self.before(Step::MakeFolder(path))?;
        match private_folder().create(path) {
            // Another thread was quicker.
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists && path.is_dir() => {}
            made => made?,
        }
        self.sync_folder(above)
    }

    /// A new file for its owner only.
    pub(crate) fn create(&self, path: PathBuf) -> io::Result<NewFile> {
        self.before(Step::Create(&path))?;
        let file = private_file().create_new(true).open(&path)?;
        let files = self.clone();
        Ok(NewFile { file, path, files })
    }

    /// Forces a file that something else wrote onto the disk.
    pub(crate) fn sync(&self, path: &Path) -> io::Result<()> {
        self.before(Step::Sync(path))?;
        // Windows syncs only what could be written.
        OpenOptions::new().write(true).open(path)?.sync_all()
    }

    pub(crate) fn sync_folder(&self, path: &Path) -> io::Result<()> {
        self.before(Step::SyncFolder(path))?;
        // Elsewhere a folder cannot be opened as a file; its names are written with the files.
        #[cfg(unix)]
        File::open(path)?.sync_all()?;
        Ok(())
    }

    pub(crate) fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.before(Step::Rename(from, to))?;
        fs::rename(from, to)
    }

    /// Removes a file; one that is not there is no error.
    pub(crate) fn unlink(&self, path: &Path) -> io::Result<()> {
        self.before(Step::Unlink(path))?;
        match fs::remove_file(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
            answer => answer,
        }
    }

    /// Overwrites a file and removes it; one that is not there is no error.
    ///
    /// Where a disk writes elsewhere than it was told (flash memory, snapshots), the old bytes may
    /// live on for a while all the same.
    pub(crate) fn wipe(&self, path: &Path) -> io::Result<()> {
        if !path.try_exists()? {
            return Ok(());
        }
        self.before(Step::Write(path))?;
        let mut file = OpenOptions::new().write(true).open(path)?;
        let length = file.metadata()?.len();
        file.seek(SeekFrom::Start(0))?;
        io::copy(&mut io::Read::take(io::repeat(0), length), &mut file)?;
        self.before(Step::Sync(path))?;
        file.sync_all()?;
        drop(file);
        self.unlink(path)
    }
}

/// A file that is being written for the first time.
pub(crate) struct NewFile {
    file: File,
    path: PathBuf,
    files: Files,
}

impl NewFile {
    pub(crate) fn sync(&self) -> io::Result<()> {
        self.files.before(Step::Sync(&self.path))?;
        self.file.sync_all()
    }
}

impl Write for NewFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.files.before(Step::Write(&self.path))?;
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

fn private_folder() -> DirBuilder {
    let mut builder = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
}

pub(crate) fn private_file() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.read(true).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}
