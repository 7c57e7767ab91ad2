//! The photographs that wait: they outlast the program, on this device alone. No book tells of them, and no
//! other device is shown one.
//!
//! A photograph lies among the blobs and belongs to nobody. Its handle stands before its bytes: so it is never
//! the same blob as another one that waits or as a page's picture, letting go of it takes nothing else along,
//! and no address of a picture leads to it.
//!
//! The name of its setting says whose it is and which blob. So that is known also where the record cannot be
//! read, because it is damaged or a newer version wrote it: such a photograph is on no list, stands in nobody's
//! way, and goes with its pupil. (First trial versions had the handle alone in the name.)

use serde::{Deserialize, Serialize};
use store::{StoreError, Write};
use units::{BlobId, Day, Moment, PageId, Problem, PupilId, TaskId, TaskKind};

use super::photo_gone;
use crate::App;
use crate::api::Corner;
use crate::device::locked;
use crate::problem;

/// Settings that begin so stand for one photograph each.
pub(crate) const PHOTO_WAITS: &str = "photo/waits/";
/// Bytes of the handle before those of the photograph.
const HANDLE: usize = 16;

/// A photograph that waits to be kept, without what can be made again from it.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Waiting {
    /// Name of its setting.
    #[serde(skip)]
    name: String,
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
        let photo = BlobId(*blake3::hash(&bytes).as_bytes());
        let waiting = Self {
            name: format!("{PHOTO_WAITS}{handle}/{pupil}/{photo}"),
            pupil,
            task,
            kind,
            written_on,
            since,
            photo,
            corners: None,
        };
        (waiting, bytes)
    }

    /// What names it to a screen.
    pub fn handle(&self) -> &str {
        handle_in(&self.name)
    }

    pub fn setting(&self) -> Write {
        Write::Setting {
            name: self.name.clone(),
            bytes: serde_json::to_vec(self).expect("a photograph's record is plain data"),
        }
    }

    /// Lets go of it, with its bytes.
    pub fn gone(&self) -> [Write; 2] {
        [
            Write::RemoveSetting(self.name.clone()),
            Write::RemoveBlob(self.photo),
        ]
    }
}

/// Where a photograph waits, whether its record can be read or not.
pub(super) struct Place {
    name: String,
    /// Whose it is, and which blob; of a first trial version this is known from the record only.
    of: Option<(PupilId, BlobId)>,
}

impl Place {
    pub fn handle(&self) -> &str {
        handle_in(&self.name)
    }

    pub fn pupil(&self) -> Option<PupilId> {
        self.of.map(|(pupil, _)| pupil)
    }

    /// Lets go of it, with its bytes as far as it is known which they are: others are nobody's, and go when
    /// the disk is next cleaned.
    pub fn gone(&self) -> Vec<Write> {
        let mut writes = vec![Write::RemoveSetting(self.name.clone())];
        writes.extend(self.of.map(|(_, photo)| Write::RemoveBlob(photo)));
        writes
    }
}

fn handle_in(name: &str) -> &str {
    let rest = name.strip_prefix(PHOTO_WAITS).unwrap_or(name);
    rest.split('/').next().unwrap_or(rest)
}

/// What the name of a setting says of whose photograph it is, and which blob.
fn of_name(name: &str) -> Option<(PupilId, BlobId)> {
    let mut parts = name.strip_prefix(PHOTO_WAITS)?.split('/').skip(1);
    Some((parts.next()?.parse().ok()?, parts.next()?.parse().ok()?))
}

/// Whose photograph the setting of this name stands for; `None` of those that first trial versions wrote.
pub(crate) fn whose_photo(name: &str) -> Option<PupilId> {
    of_name(name).map(|(pupil, _)| pupil)
}

impl App {
    /// The photograph of this handle, while it waits.
    pub(crate) fn waiting_photo(&self, handle: &str) -> Result<Option<Waiting>, Problem> {
        let names = self.names_of_waiting(handle)?;
        names.first().map_or(Ok(None), |name| self.record(name))
    }

    /// Those that wait, the longest first.
    pub(crate) fn all_waiting(&self) -> Result<Vec<Waiting>, Problem> {
        let mut all = Vec::new();
        for name in self.names_under(PHOTO_WAITS)? {
            all.extend(self.record(&name)?);
        }
        all.sort_by(|one, other| (one.since, &one.name).cmp(&(other.since, &other.name)));
        Ok(all)
    }

    /// The blobs that are photographs which wait.
    pub(crate) fn photos_that_wait(&self) -> Result<Vec<BlobId>, Problem> {
        let places = self.all_places()?.into_iter();
        Ok(places.filter_map(|place| Some(place.of?.1)).collect())
    }

    /// Its file as it was taken in.
    pub(super) fn file_of(&self, waiting: &Waiting) -> Result<Vec<u8>, Problem> {
        let bytes = self.inner.store.blob(waiting.photo);
        let mut bytes = bytes.map_err(problem::store)?.ok_or_else(photo_gone)?;
        bytes.drain(..HANDLE.min(bytes.len()));
        Ok(bytes)
    }

    /// Where the photograph of this handle waits.
    pub(super) fn place(&self, handle: &str) -> Result<Option<Place>, Problem> {
        let names = self.names_of_waiting(handle)?.into_iter();
        names
            .take(1)
            .map(|name| self.place_of(name))
            .next()
            .transpose()
    }

    pub(super) fn all_places(&self) -> Result<Vec<Place>, Problem> {
        let names = self.names_under(PHOTO_WAITS)?.into_iter();
        names.map(|name| self.place_of(name)).collect()
    }

    fn place_of(&self, name: String) -> Result<Place, Problem> {
        let of = match of_name(&name) {
            Some(of) => Some(of),
            None => self.record(&name)?.map(|it| (it.pupil, it.photo)),
        };
        Ok(Place { name, of })
    }

    /// What is kept of a photograph that waits; `None` also where it cannot be read.
    fn record(&self, name: &str) -> Result<Option<Waiting>, Problem> {
        let bytes = match self.inner.store.setting(name) {
            Err(StoreError::Damaged(_)) => None,
            other => other.map_err(problem::store)?,
        };
        let record = bytes.and_then(|bytes| serde_json::from_slice::<Waiting>(&bytes).ok());
        Ok(record.map(|record| Waiting {
            name: name.to_owned(),
            ..record
        }))
    }

    /// At most one.
    fn names_of_waiting(&self, handle: &str) -> Result<Vec<String>, Problem> {
        // Of handles none begins another: they are all of one length.
        match handle.parse::<PageId>() {
            Ok(_) => self.names_under(&format!("{PHOTO_WAITS}{handle}")),
            Err(_) => Ok(Vec::new()),
        }
    }

    fn names_under(&self, prefix: &str) -> Result<Vec<String>, Problem> {
        let names = self.inner.store.settings_under(prefix);
        names.map_err(problem::store)
    }

    /// Forgets what was seen in a photograph. Whoever lets go of it calls this while holding the cases.
    pub(super) fn forget_seen(&self, handle: &str) {
        locked(&self.inner.looked).remove(handle);
    }
}
