//! Files that came before what they rest on: kept, and taken as soon as they can be.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use store::{MAX_BLOB_BYTES, StoreError, Write};
use sync::carry::Opened;
use units::{BlobId, Problem, PupilId};

use super::numbers;
use crate::App;
use crate::api::Notice;
use crate::device::read_setting;
use crate::problem;

/// The files that wait.
const WAITING: &str = "carry/waits";
/// Most of them; the oldest go first. They can be sent again.
const MOST_WAITING: usize = 24;

/// A file that waits; it is kept as a blob that belongs to nobody.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Waiting {
    file: BlobId,
    pupil: PupilId,
}

/// What came of the files that waited.
#[derive(Debug, Default)]
pub(crate) struct Later {
    pub new_changes: u32,
    pub new_blobs: u32,
    /// Those that could not be tried to the end just now.
    pub untried: BTreeSet<BlobId>,
}

impl App {
    /// Keeps a file that rests on what has not come yet; its name among the blobs.
    pub(super) fn keep_waiting(&self, pupil: PupilId, bytes: Vec<u8>) -> Result<BlobId, Problem> {
        let file = BlobId(*blake3::hash(&bytes).as_bytes());
        if bytes.len() > MAX_BLOB_BYTES {
            return Err(Problem::new(
                "carry-too-early",
                "This file rests on others that have not come yet, and is too large to be kept until then.",
                "Open the other files first, then this one again.",
            ));
        }
        let mut unread = false;
        self.change_waiting(|waiting| {
            if waiting.iter().any(|known| known.file == file) {
                return Vec::new();
            }
            waiting.push(Waiting { file, pupil });
            let over = waiting.len().saturating_sub(MOST_WAITING);
            unread = over > 0;
            let over = waiting.drain(..over);
            let mut writes: Vec<Write> = over.map(|it| Write::RemoveBlob(it.file)).collect();
            writes.push(Write::Blob(bytes));
            writes
        })?;
        if unread {
            self.tell_unread();
        }
        Ok(file)
    }

    /// Changes the list of the files that wait; it is given what else is to be written with that, nothing
    /// where nothing is to change. With the cases held nobody else changes it, and none of the files is
    /// taken for left over.
    fn change_waiting(
        &self,
        change: impl FnOnce(&mut Vec<Waiting>) -> Vec<Write>,
    ) -> Result<(), Problem> {
        self.with_cases_held(|| {
            let mut waiting = self.waiting()?;
            let mut writes = change(&mut waiting);
            if writes.is_empty() {
                return Ok(());
            }
            writes.push(now(&waiting));
            self.inner.store.transaction(writes).map_err(problem::store)
        })
    }

    /// Whoever has the sender near can have it sent again.
    fn tell_unread(&self) {
        let problem = Problem::new(
            "carry-let-go",
            "A file that was brought here and waited for others was let go before all of it could be taken.",
            "If something is missing, let the devices meet, or ask for new files.",
        );
        // On a full disk nothing can be told.
        let _ = self.notice_once(Notice::Unfinished { problem });
    }

    /// Takes the files that waited, as far as they can be taken now; and the first reason, but for that of a file
    /// itself, why one could not be: it waits on, and the others were tried all the same.
    pub(crate) fn take_waiting(&self) -> Result<(Later, Result<(), Problem>), Problem> {
        let mut later = Later::default();
        loop {
            let mut failed = Ok(());
            let mut moved = false;
            later.untried.clear();
            for waiting in self.waiting()? {
                match self.try_one(&waiting, &mut later) {
                    Ok(taken) => moved |= taken,
                    Err(problem) => {
                        failed = failed.and(Err(problem));
                        later.untried.insert(waiting.file);
                    }
                }
            }
            if failed.is_err() || !moved {
                return Ok((later, failed));
            }
        }
    }

    /// Takes one of the files that waited; whether it could be taken.
    fn try_one(&self, waiting: &Waiting, later: &mut Later) -> Result<bool, Problem> {
        let Some(opened) = self.open_waiting(waiting)? else {
            self.no_longer(waiting)?;
            self.tell_unread();
            return Ok(false);
        };
        let opened = self.take_carry(opened)?;
        later.new_changes += opened.new_changes;
        later.new_blobs += opened.new_blobs;
        if opened.waits {
            return Ok(false);
        }
        self.no_longer(waiting)?;
        Ok(true)
    }

    /// What is in a file that waits. One that cannot be opened any more, because its sender was removed or it
    /// is damaged on the disk, waits in vain: `None`.
    fn open_waiting(&self, waiting: &Waiting) -> Result<Option<(PupilId, Opened)>, Problem> {
        match self.inner.store.blob(waiting.file) {
            Ok(bytes) => Ok(bytes.and_then(|bytes| self.unseal(&bytes).ok())),
            Err(StoreError::Damaged(_)) => Ok(None),
            Err(error) => Err(problem::store(error)),
        }
    }

    /// Lets go of the files about a pupil that wait and may hold what was forgotten: those made before
    /// their sender had heard of it. They can be sent again. Those that could not be tried stay until then.
    pub(crate) fn let_waiting_go(
        &self,
        pupil: PupilId,
        untried: &BTreeSet<BlobId>,
    ) -> Result<(), Problem> {
        for waiting in self.waiting()? {
            if waiting.pupil != pupil || untried.contains(&waiting.file) {
                continue;
            }
            let opened = self.open_waiting(&waiting)?;
            if !opened.is_some_and(|(_, opened)| self.is_of_this_founding(pupil, &opened)) {
                self.no_longer(&waiting)?;
                // Of a pupil who was erased nothing is missing.
                if self.standing(pupil).is_some_and(|log| !log.erased) {
                    self.tell_unread();
                }
            }
        }
        Ok(())
    }

    /// Whether all books that a file's sender held were of the founding that holds.
    fn is_of_this_founding(&self, pupil: PupilId, opened: &Opened) -> bool {
        let log = self.standing(pupil).filter(|log| !log.erased);
        log.is_some_and(|log| {
            let have = numbers(&opened.parcel.have);
            let mut books = have.keys().filter(|doc| !doc.is_log());
            // Where none holds, though there were some, nobody knows what the books of before held.
            let holds = log.founding.is_some() || log.foundings.is_empty();
            holds && books.all(|doc| doc.founding == log.founding_id())
        })
    }

    fn no_longer(&self, gone: &Waiting) -> Result<(), Problem> {
        self.change_waiting(|waiting| {
            waiting.retain(|known| known != gone);
            vec![Write::RemoveBlob(gone.file)]
        })
    }

    /// The blobs that are files which wait.
    pub(crate) fn waiting_files(&self) -> Result<Vec<BlobId>, Problem> {
        let waiting = self.waiting()?.into_iter();
        Ok(waiting.map(|waiting| waiting.file).collect())
    }

    fn waiting(&self) -> Result<Vec<Waiting>, Problem> {
        Ok(read_setting(&self.inner.store, WAITING)?.unwrap_or_default())
    }
}

fn now(waiting: &[Waiting]) -> Write {
    Write::Setting {
        name: WAITING.to_owned(),
        bytes: serde_json::to_vec(waiting).expect("ids are plain data"),
    }
}
