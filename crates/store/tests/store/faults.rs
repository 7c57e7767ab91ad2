//! Disks that fail at a given step, and one that shows what a power cut would leave at each.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use store::{Disk, Step};

use crate::ground::{MemoryKeyring, copy_folder, folder};

/// A disk on which one step fails, or that one and all after it.
pub struct Failing {
    pub at: usize,
    pub for_ever: bool,
    pub kind: io::ErrorKind,
    steps: Mutex<Option<Vec<String>>>,
}

impl Failing {
    pub fn new(at: usize, for_ever: bool, kind: io::ErrorKind) -> Self {
        Self {
            at,
            for_ever,
            kind,
            steps: Mutex::new(None),
        }
    }

    /// Counts from here.
    pub fn begin(&self) {
        *self.steps.lock().unwrap() = Some(Vec::new());
    }

    /// Fails no more. The step that failed first, if it came to that.
    pub fn end(&self) -> Option<String> {
        let steps = self.steps.lock().unwrap().take().unwrap();
        steps.get(self.at).cloned()
    }
}

impl Disk for Failing {
    fn before(&self, step: Step<'_>) -> io::Result<()> {
        let mut steps = self.steps.lock().unwrap();
        let Some(steps) = steps.as_mut() else {
            return Ok(());
        };
        steps.push(format!("{step:?}"));
        let now = steps.len() - 1;
        if now == self.at || self.for_ever && now > self.at {
            return Err(self.kind.into());
        }
        Ok(())
    }
}

/// What a power cut leaves at one moment.
pub struct Shot {
    pub folder: tempfile::TempDir,
    pub keyring: MemoryKeyring,
    /// The step that it hit, and what of the steps before it was lost.
    pub about: String,
    /// Whether anything was lost that was not forced onto the disk.
    pub lossy: bool,
    /// Whether the work had been acknowledged.
    pub acknowledged: bool,
}

impl Shot {
    pub fn path(&self) -> PathBuf {
        self.folder.path().join("data")
    }
}

/// A disk that keeps a copy of the folder before every step: as it is, and as it would be without what
/// has not been forced onto the disk: all names or one of them, the bytes, or both.
///
/// SQLite's own writes to its database and log are taken as they are.
pub struct PowerCuts {
    folder: PathBuf,
    keyring: MemoryKeyring,
    seen: Mutex<Seen>,
}

#[derive(Default)]
struct Seen {
    watching: bool,
    shots: Vec<Shot>,
    /// Changes of names that a power cut may undo, in order.
    names: Vec<NameChange>,
    /// Files whose bytes were not forced onto the disk, with those that were.
    bytes: BTreeMap<PathBuf, Vec<u8>>,
}

enum NameChange {
    MadeFolder(PathBuf),
    Created(PathBuf),
    Renamed(PathBuf, PathBuf, Option<Vec<u8>>),
    Removed(PathBuf, Vec<u8>),
}

impl NameChange {
    fn folder(&self) -> &Path {
        let (Self::MadeFolder(path)
        | Self::Created(path)
        | Self::Renamed(path, ..)
        | Self::Removed(path, _)) = self;
        path.parent().unwrap()
    }

    fn undo(&self, place: impl Fn(&Path) -> PathBuf) -> io::Result<()> {
        match self {
            Self::MadeFolder(path) => fs::remove_dir_all(place(path)),
            Self::Created(path) => fs::remove_file(place(path)),
            Self::Renamed(from, to, before) => {
                fs::rename(place(to), place(from))?;
                match before {
                    Some(bytes) => fs::write(place(to), bytes),
                    None => Ok(()),
                }
            }
            Self::Removed(path, bytes) => fs::write(place(path), bytes),
        }
    }
}

impl PowerCuts {
    pub fn new(folder: &Path, keyring: &MemoryKeyring) -> Self {
        Self {
            folder: folder.to_owned(),
            keyring: keyring.clone(),
            seen: Mutex::default(),
        }
    }

    pub fn begin(&self) {
        self.seen.lock().unwrap().watching = true;
    }

    /// The shots of every moment since the beginning, with those of now.
    pub fn end(&self) -> Vec<Shot> {
        let mut seen = self.seen.lock().unwrap();
        self.shoot(&mut seen, "nothing: it was done", true);
        std::mem::take(&mut *seen).shots
    }

    fn shoot(&self, seen: &mut Seen, step: &str, acknowledged: bool) {
        // Names: all that a power cut may undo, or one of them, as a disk that reorders would.
        let each = (0..seen.names.len()).map(|index| index..index + 1);
        let mut lost_names: Vec<_> = each.chain([0..seen.names.len(), 0..0]).collect();
        lost_names.sort_by_key(|lost| (lost.len(), lost.start));
        lost_names.dedup();
        for names in lost_names {
            for bytes in [false, true] {
                if bytes && seen.bytes.is_empty() {
                    continue;
                }
                let shot = Shot {
                    folder: folder(),
                    keyring: self.keyring.copy(),
                    about: format!("cut before {step}, names lost: {names:?}, bytes lost: {bytes}"),
                    lossy: !names.is_empty() || bytes,
                    acknowledged,
                };
                self.lose(seen, &shot.path(), names.clone(), bytes);
                seen.shots.push(shot);
            }
        }
    }

    /// A copy of the folder without what was lost.
    fn lose(&self, seen: &Seen, copy: &Path, names: Range<usize>, bytes: bool) {
        let place = |path: &Path| copy.join(path.strip_prefix(&self.folder).unwrap());
        if self.folder.is_dir() {
            copy_folder(&self.folder, copy);
        }
        if bytes {
            for (path, before) in &seen.bytes {
                fs::write(place(path), before).unwrap();
            }
        }
        for change in seen.names[names].iter().rev() {
            match change.undo(place) {
                // A later change has taken it elsewhere.
                Err(error) if error.kind() == io::ErrorKind::NotFound => {}
                undone => undone.unwrap(),
            }
        }
    }

    fn note(&self, seen: &mut Seen, step: Step<'_>) {
        let own = |path: &Path| path.to_owned();
        match step {
            Step::MakeFolder(path) => seen.names.push(NameChange::MadeFolder(own(path))),
            Step::Create(path) => {
                seen.names.push(NameChange::Created(own(path)));
                seen.bytes.insert(own(path), Vec::new());
            }
            Step::Write(path) | Step::Copy(path) => {
                let before = fs::read(path).unwrap();
                seen.bytes.entry(own(path)).or_insert(before);
            }
            Step::Sync(path) => drop(seen.bytes.remove(path)),
            Step::SyncFolder(path) => seen.names.retain(|change| change.folder() != path),
            Step::Rename(from, to) => {
                if let Some(bytes) = seen.bytes.remove(from) {
                    seen.bytes.insert(own(to), bytes);
                }
                let before = fs::read(to).ok();
                seen.names
                    .push(NameChange::Renamed(own(from), own(to), before));
            }
            Step::Unlink(path) => {
                seen.bytes.remove(path);
                if let Ok(bytes) = fs::read(path) {
                    seen.names.push(NameChange::Removed(own(path), bytes));
                }
            }
            Step::Commit | Step::KeepSecret(_) | Step::RemoveSecret(_) => {}
        }
    }
}

impl Disk for PowerCuts {
    fn before(&self, step: Step<'_>) -> io::Result<()> {
        let mut seen = self.seen.lock().unwrap();
        if seen.watching {
            self.shoot(&mut seen, &format!("{step:?}"), false);
            self.note(&mut seen, step);
        }
        Ok(())
    }
}
