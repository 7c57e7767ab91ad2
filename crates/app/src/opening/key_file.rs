//! The key file: read, and made so that one whole file is there, or none.

#[cfg(test)]
mod tests;

use std::ffi::OsStr;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::Path;

use store::{Key, Opener};
use units::Problem;

use crate::device::random;

/// The key in this file, which is made where there is none.
pub(super) fn made(path: &Path) -> Result<Opener, Problem> {
    match read(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => {
            let made = make(path, &random::<32>()?).and_then(|()| read(path));
            opener(path, made)
        }
        answer => opener(path, answer),
    }
}

/// The key in this file, which must be there: what it locks is.
pub(super) fn of_data(path: &Path) -> Result<Opener, Problem> {
    match read(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => Err(Problem::new(
            "key-file-missing",
            format!(
                "The key file {} is not there, and the data of this device opens with nothing else.",
                path.display()
            ),
            "Connect the drive that holds it, or start the program with --key-file and where it is now. Nothing was changed, and no new key was made.",
        )),
        answer => opener(path, answer),
    }
}

/// A key file that is there, and is not the right one.
pub(super) fn is_another() -> Problem {
    Problem::new(
        "key-file-wrong",
        "This key file does not open the data of this device.",
        "Connect the drive that holds the right one, or start the program with --key-file and where that is. Nothing was changed.",
    )
}

fn opener(path: &Path, bytes: io::Result<Vec<u8>>) -> Result<Opener, Problem> {
    let unusable = |reason: String| {
        Problem::new(
            "key-file-unusable",
            format!("The key file {} cannot be used ({reason}).", path.display()),
            "Name a file of 32 random bytes, or one that does not exist yet.",
        )
    };
    let bytes = bytes.map_err(|error| unusable(error.to_string()))?;
    let key = bytes
        .try_into()
        .map_err(|_| unusable("it has not 32 bytes".to_owned()))?;
    Ok(Opener::Key(Key::new(key)))
}

fn read(path: &Path) -> io::Result<Vec<u8>> {
    let bytes = fs::read(path)?;
    // What cannot be removed is as private as the file itself.
    let _ = remove_unfinished(path);
    Ok(bytes)
}

/// Makes a file that only its owner reads, whole from the start and on the disk: of two programs that make
/// it at the same time one does, and both then read the same.
fn make(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let name: String = random::<8>()
        .map_err(|problem| io::Error::other(problem.message))?
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let beside = path.with_extension(format!("{name}.new"));
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&beside)?;
    let made = file
        .write_all(bytes)
        .and_then(|()| file.sync_all())
        .and_then(|()| fs::hard_link(&beside, path));
    // Another that was quicker may have removed it.
    let _ = fs::remove_file(&beside);
    if let Err(error) = made
        && !path.try_exists()?
    {
        return Err(error);
    }
    // Nothing may be locked by a key whose name a power cut takes away.
    sync_folder(folder_of(path))
}

/// Removes what a making that was cut short left beside this file, under either of its names: the same bytes
/// once more, if not the same file. So they are not overwritten.
fn remove_unfinished(path: &Path) -> io::Result<()> {
    let Some(stem) = path.file_stem().and_then(OsStr::to_str) else {
        return Ok(());
    };
    for entry in fs::read_dir(folder_of(path))? {
        let entry = entry?;
        let name = entry.file_name();
        let unfinished = name.to_str().and_then(|name| {
            let name = name.strip_prefix(stem)?.strip_prefix('.')?;
            name.strip_suffix(".new")
        });
        let ours = unfinished.is_some_and(|middle| {
            !middle.is_empty() && middle.bytes().all(|byte| byte.is_ascii_hexdigit())
        });
        let key = |file: fs::Metadata| file.is_file() && file.len() <= Key::LENGTH as u64;
        if ours && entry.metadata().is_ok_and(key) {
            // Another may have been quicker.
            let _ = fs::remove_file(entry.path());
        }
    }
    Ok(())
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    }
}

/// Forces a folder's list of names onto the disk. Elsewhere a folder cannot be opened as a file.
fn sync_folder(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    File::open(folder)?.sync_all()?;
    Ok(())
}
