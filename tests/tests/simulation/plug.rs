//! The disk and the power of one device: cut before any durable step, or full for a while.

use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use store::{Disk, Step};

/// What a planted fault of the disk does to what a cut leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lie {
    #[default]
    None,
    /// The last commit was said to be on the disk and was not.
    LosesTheLastCommit,
    /// The file that was made last is there and empty.
    LosesTheLastFile,
}

/// Asked before each durable step of one device.
pub struct Plug {
    folder: PathBuf,
    lie: Lie,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    /// Steps until the power goes.
    left: Option<u64>,
    gone: bool,
    /// Steps that still find the disk full.
    full: u64,
    made_last: Option<PathBuf>,
    committed: bool,
}

impl Plug {
    pub fn new(folder: &Path, lie: Lie) -> Self {
        Self {
            folder: folder.to_owned(),
            lie,
            state: Mutex::default(),
        }
    }

    /// The power goes after so many more steps.
    pub fn cut_after(&self, steps: u64) {
        self.state().left = Some(steps);
    }

    /// The disk is full for so many steps that would take room.
    pub fn fill_for(&self, steps: u64) {
        self.state().full = steps;
    }

    pub fn is_gone(&self) -> bool {
        self.state().gone
    }

    pub fn is_full(&self) -> bool {
        self.state().full > 0
    }

    /// No more faults.
    pub fn mend(&self) {
        let mut state = self.state();
        state.left = None;
        state.full = 0;
    }

    /// Puts back what the cut left. Nobody may have the folder open.
    pub fn restore(&self) {
        let mut state = self.state();
        if !state.gone {
            return;
        }
        fs::remove_dir_all(&self.folder).expect("the folder goes");
        fs::rename(self.shot(), &self.folder).expect("what the cut left takes its place");
        *state = State {
            full: state.full,
            ..State::default()
        };
    }

    fn shot(&self) -> PathBuf {
        self.folder.with_extension("cut")
    }

    fn before_commit(&self) -> PathBuf {
        self.folder.with_extension("before")
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What is in the folder at this moment is what the cut leaves.
    fn cut(&self, state: &State) {
        match self.lie {
            Lie::LosesTheLastCommit if state.committed => {
                fs::rename(self.before_commit(), self.shot()).expect("a copy");
            }
            _ => copy(&self.folder, &self.shot()),
        }
        let lost = state.made_last.as_ref();
        let lost = lost.and_then(|path| path.strip_prefix(&self.folder).ok());
        if let (Lie::LosesTheLastFile, Some(lost)) = (self.lie, lost) {
            let lost = self.shot().join(lost);
            if lost.exists() {
                fs::write(lost, []).expect("an empty file");
            }
        }
    }
}

impl Disk for Plug {
    fn before(&self, step: Step<'_>) -> io::Result<()> {
        let mut state = self.state();
        if state.gone {
            return Err(io::Error::other("the power is gone"));
        }
        if hangs_on_chance(step) {
            return Ok(());
        }
        match state.left {
            Some(0) => {
                self.cut(&state);
                state.gone = true;
                return Err(io::Error::other("the power goes"));
            }
            Some(left) => state.left = Some(left - 1),
            None => {}
        }
        let takes_room = matches!(
            step,
            Step::Create(_) | Step::Write(_) | Step::Commit | Step::Copy(_)
        );
        if takes_room && state.full > 0 {
            state.full -= 1;
            return Err(ErrorKind::StorageFull.into());
        }
        match step {
            Step::Create(path) => state.made_last = Some(path.to_owned()),
            Step::Commit if self.lie == Lie::LosesTheLastCommit => {
                let before = self.before_commit();
                let _ = fs::remove_dir_all(&before);
                copy(&self.folder, &before);
                state.committed = true;
            }
            _ => {}
        }
        Ok(())
    }
}

/// A blob's file has a random name and lies in a folder for its first letters. Whether that is there
/// already hangs on chance, so these steps are not counted, and none fails.
fn hangs_on_chance(step: Step<'_>) -> bool {
    match step {
        Step::MakeFolder(_) => true,
        Step::SyncFolder(path) => path.ends_with("blobs"),
        _ => false,
    }
}

/// Copies a folder with all that is in it.
pub fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder to copy") {
        let path = entry.expect("an entry").path();
        let there = to.join(path.file_name().expect("a name"));
        match path.is_dir() {
            true => copy(&path, &there),
            false => {
                fs::copy(&path, there).expect("a copy");
            }
        }
    }
}
