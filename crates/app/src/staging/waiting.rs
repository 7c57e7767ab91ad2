//! The photographs that wait: they outlast the program, on this device alone. No book tells of them, and no
//! other device is shown one.
//!
//! A photograph lies among the blobs and belongs to nobody. Its handle stands before its bytes: so it is never
//! the same blob as another one that waits or as a page's picture, letting go of it takes nothing else along,
//! and no address of a picture leads to it.

use serde::{Deserialize, Serialize};
use store::Write;
use units::{BlobId, Day, Moment, PageId, Problem, PupilId, TaskId, TaskKind};

use super::not_staged;
use crate::App;
use crate::api::{Corner, Event};
use crate::device::{locked, read_setting};
use crate::problem;

/// Settings that begin so stand for one photograph each.
const WAITS: &str = "photo/waits/";
/// Photographs that may wait at once.
const MOST: usize = 4;
/// Bytes of the handle before those of the photograph.
const HANDLE: usize = 16;

/// A photograph that waits to be kept, without what can be made again from it.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Waiting {
    pub pupil: PupilId,
    pub task: Option<TaskId>,
    pub kind: TaskKind,
    pub written_on: Day,
    pub since: Moment,
    photo: BlobId,
    /// Where a person says that the sheet's corners are.
    pub corners: Option<[Corner; 4]>,
}

impl Waiting {
    /// One that begins to wait, and the bytes to be kept with it.
    pub fn new(
        handle: PageId,
        photo: &[u8],
        pupil: PupilId,
        (task, kind): (Option<TaskId>, TaskKind),
        written_on: Day,
        since: Moment,
    ) -> (Self, Vec<u8>) {
        let bytes = [&handle.0[..], photo].concat();
        let waiting = Self {
            pupil,
            task,
            kind,
            written_on,
            since,
            photo: BlobId(*blake3::hash(&bytes).as_bytes()),
            corners: None,
        };
        (waiting, bytes)
    }

    fn setting(&self, handle: &str) -> Write {
        Write::Setting {
            name: name(handle),
            bytes: serde_json::to_vec(self).expect("a photograph's record is plain data"),
        }
    }

    /// Lets go of it, with its bytes.
    pub fn gone(&self, handle: &str) -> [Write; 2] {
        [
            Write::RemoveSetting(name(handle)),
            Write::RemoveBlob(self.photo),
        ]
    }
}

fn name(handle: &str) -> String {
    format!("{WAITS}{handle}")
}

impl App {
    /// The photograph of this handle, while it waits.
    pub(crate) fn waiting_photo(&self, handle: &str) -> Result<Option<Waiting>, Problem> {
        match handle.parse::<PageId>() {
            Ok(_) => read_setting(&self.inner.store, &name(handle)),
            Err(_) => Ok(None),
        }
    }

    /// Those that wait, each with its handle, the longest first.
    pub(super) fn all_waiting(&self) -> Result<Vec<(String, Waiting)>, Problem> {
        let mut all = Vec::new();
        for handle in self.handles()? {
            all.extend(
                self.waiting_photo(&handle)?
                    .map(|waiting| (handle, waiting)),
            );
        }
        all.sort_by(|(a, one), (b, other)| (one.since, a).cmp(&(other.since, b)));
        Ok(all)
    }

    fn handles(&self) -> Result<Vec<String>, Problem> {
        let names = self.inner.store.settings_under(WAITS);
        let names = names.map_err(problem::store)?.into_iter();
        let handles = names.filter_map(|name| Some(name.strip_prefix(WAITS)?.to_owned()));
        Ok(handles.collect())
    }

    /// The blobs that are photographs which wait.
    pub(crate) fn photos_that_wait(&self) -> Result<Vec<BlobId>, Problem> {
        let all = self.all_waiting()?.into_iter();
        Ok(all.map(|(_, waiting)| waiting.photo).collect())
    }

    /// Its file as it was taken in.
    pub(super) fn file_of(&self, waiting: &Waiting) -> Result<Vec<u8>, Problem> {
        let bytes = self.inner.store.blob(waiting.photo);
        let mut bytes = bytes.map_err(problem::store)?.ok_or_else(not_staged)?;
        bytes.drain(..HANDLE.min(bytes.len()));
        Ok(bytes)
    }

    /// Whether another may wait; one that it takes the place of makes room.
    pub(super) fn has_room(&self, instead_of: Option<&str>) -> Result<(), Problem> {
        let mut handles = self.handles()?;
        handles.retain(|handle| instead_of != Some(handle));
        match handles.len() < MOST {
            true => Ok(()),
            false => Err(Problem::new(
                "enough-waiting",
                format!("{MOST} photographs wait on this device already."),
                "Keep them or let them go first: each waits where its page is added.",
            )),
        }
    }

    /// From now on a photograph waits, and the one that it takes the place of no more.
    pub(super) fn begin_waiting(
        &self,
        handle: &str,
        waiting: &Waiting,
        bytes: Vec<u8>,
        instead_of: Option<&str>,
    ) -> Result<(), Problem> {
        let mut done = false;
        self.unless_erased(waiting.pupil, |_| {
            self.has_room(instead_of)?;
            let mut writes = vec![Write::Blob(bytes), waiting.setting(handle)];
            if let Some(before) = instead_of {
                let gone = self.waiting_photo(before)?;
                writes.extend(gone.iter().flat_map(|gone| gone.gone(before)));
            }
            done = true;
            self.inner.store.transaction(writes).map_err(problem::store)
        })?;
        if !done {
            return Err(problem::no_such_pupil());
        }
        if let Some(before) = instead_of {
            locked(&self.inner.looked).remove(before);
        }
        self.tell_of(waiting);
        Ok(())
    }

    /// Remembers where the corners are said to be.
    pub(super) fn remember_corners(
        &self,
        handle: &str,
        corners: Option<[Corner; 4]>,
    ) -> Result<(), Problem> {
        self.with_cases_held(|| {
            let waiting = self.waiting_photo(handle)?.ok_or_else(not_staged)?;
            let now = Waiting { corners, ..waiting };
            let writes = vec![now.setting(handle)];
            self.inner.store.transaction(writes).map_err(problem::store)
        })
    }

    /// Lets go of a photograph; one that waits no more is gone already.
    pub(super) fn stop_waiting(&self, handle: &str) -> Result<(), Problem> {
        let gone = self.with_cases_held(|| {
            let gone = self.waiting_photo(handle)?;
            if let Some(gone) = &gone {
                let writes = gone.gone(handle).into();
                self.inner
                    .store
                    .transaction(writes)
                    .map_err(problem::store)?;
            }
            Ok::<_, Problem>(gone)
        })?;
        locked(&self.inner.looked).remove(handle);
        if let Some(gone) = gone {
            self.tell_of(&gone);
        }
        Ok(())
    }

    /// Lets go of the photographs of pupils who are here no longer.
    pub(crate) fn let_photos_go(&self) -> Result<(), Problem> {
        for (handle, waiting) in self.all_waiting()? {
            if self.standing(waiting.pupil).is_none_or(|log| log.erased) {
                self.stop_waiting(&handle)?;
            }
        }
        Ok(())
    }

    /// Screens that list what waits ask for it again.
    fn tell_of(&self, waiting: &Waiting) {
        let pupil = Some(waiting.pupil);
        self.tell(Event::Changed { pupil });
    }
}
