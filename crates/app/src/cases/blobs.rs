//! Which blobs are whose: a picture or a whole reading belongs to a pupil once its bytes were made here for
//! that pupil, or came within that pupil's books. Only then is it shown, served and handed on for that
//! pupil: whoever has heard of the name of another's picture gets nothing by writing it in a book.

use std::collections::BTreeSet;

use casefile::PupilView as Books;
use store::{StoreError, Write};
use sync::Wanted;
use units::{BlobId, DeviceId, PageRecord, Problem, PupilId};

use crate::App;
use crate::api::Notice;
use crate::device::locked;
use crate::problem;

/// Names of settings without a value, one for each blob of each pupil.
const BELONGS: &str = "blob/";
/// A setting without a value: it was said of every blob here whose it is.
const ASSIGNED: &str = "blobs/assigned";

fn of_pupil(pupil: PupilId) -> String {
    format!("{BELONGS}{pupil}/")
}

fn name(pupil: PupilId, id: BlobId) -> String {
    format!("{BELONGS}{pupil}/{id}")
}

/// Says that a blob belongs to a pupil.
pub(super) fn belongs(pupil: PupilId, id: BlobId) -> Write {
    Write::Setting {
        name: name(pupil, id),
        bytes: Vec::new(),
    }
}

/// Says that a blob belongs to a pupil no longer.
pub(super) fn belongs_no_more(pupil: PupilId, id: BlobId) -> Write {
    Write::RemoveSetting(name(pupil, id))
}

/// Says that it was said of every blob whose it is.
pub(crate) fn assigned() -> Write {
    Write::Setting {
        name: ASSIGNED.to_owned(),
        bytes: Vec::new(),
    }
}

/// Keeps a blob for a pupil.
pub(crate) fn keep(pupil: PupilId, bytes: Vec<u8>) -> [Write; 2] {
    let id = BlobId(*blake3::hash(&bytes).as_bytes());
    [Write::Blob(bytes), belongs(pupil, id)]
}

/// What the books name, as far as it is shown or is yet to be.
pub(crate) fn blobs_named(books: &Books) -> BTreeSet<BlobId> {
    let pages = books.pages.iter();
    let of_pages = pages.flat_map(|page| {
        let readings = page.readings.iter().map(|reading| reading.detail);
        readings.chain([page.picture])
    });
    of_pages.chain(books.early.iter().copied()).collect()
}

impl App {
    /// The blobs that belong to a pupil and are here.
    pub(crate) fn blobs_of(&self, pupil: PupilId) -> Result<BTreeSet<BlobId>, Problem> {
        let (store, prefix) = (&self.inner.store, of_pupil(pupil));
        let names = store.settings_under(&prefix).map_err(problem::store)?;
        // In order.
        let here = store.blobs().map_err(problem::store)?;
        let ids = names.iter().filter_map(|name| name.strip_prefix(&prefix));
        let ids = ids.filter_map(|id| id.parse().ok());
        let damaged = locked(&self.inner.damaged);
        let sound = ids.filter(|id| here.binary_search(id).is_ok() && !damaged.contains(id));
        Ok(sound.collect())
    }

    /// The blobs that belong to any pupil, each with its pupil.
    pub(super) fn all_blobs(&self) -> Result<Vec<(PupilId, BlobId)>, Problem> {
        let names = self.inner.store.settings_under(BELONGS);
        let names = names.map_err(problem::store)?;
        let pairs = names.iter().filter_map(|name| {
            let (pupil, id) = name.strip_prefix(BELONGS)?.split_once('/')?;
            Some((pupil.parse().ok()?, id.parse().ok()?))
        });
        Ok(pairs.collect())
    }

    /// Whether a blob of a pupil is here.
    pub(crate) fn has_blob(&self, pupil: PupilId, id: BlobId) -> Result<bool, Problem> {
        let store = &self.inner.store;
        let belongs = store.setting(&name(pupil, id)).map_err(problem::store)?;
        let here = store.has_blob(id).map_err(problem::store)?;
        Ok(belongs.is_some() && here && !locked(&self.inner.damaged).contains(&id))
    }

    /// The bytes of a blob, whosever it is. One whose file is damaged is as one that is not here: it is said, and
    /// another device that has it brings it again.
    pub(crate) fn bytes_of(&self, id: BlobId) -> Result<Option<Vec<u8>>, Problem> {
        match self.inner.store.blob(id) {
            Err(StoreError::Damaged(_)) => {
                if locked(&self.inner.damaged).insert(id) {
                    let problem = problem::picture_damaged();
                    // On a full disk nothing can be told.
                    let _ = self.notice_once(Notice::Unfinished { problem });
                }
                Ok(None)
            }
            bytes => bytes.map_err(problem::store),
        }
    }

    /// A blob of a pupil, if it is here.
    pub(crate) fn blob_of(&self, pupil: PupilId, id: BlobId) -> Result<Option<Vec<u8>>, Problem> {
        match self.has_blob(pupil, id)? {
            true => self.bytes_of(id),
            false => Ok(None),
        }
    }

    /// Blobs that a pupil's books name, the most wanted first: whole readings, which are small, then
    /// pictures, those of the newest pages first. Of a page's readings those that are not here, back to
    /// the newest that is.
    pub(crate) fn lacking(&self, pupils: &[PupilId]) -> Result<Vec<Wanted>, Problem> {
        let (mut readings, mut pictures) = (Vec::new(), Vec::new());
        for &pupil in pupils {
            let here = self.blobs_of(pupil)?;
            let wanted = |id: BlobId| Wanted { scope: pupil.0, id };
            for page in &self.books(pupil)?.pages {
                let newest = readings_to_have(page, &here);
                let lacking = newest.filter(|id| !here.contains(id));
                readings.extend(lacking.map(|id| (page.written_on, wanted(id))));
                if !here.contains(&page.picture) {
                    pictures.push((page.written_on, wanted(page.picture)));
                }
            }
        }
        for blobs in [&mut readings, &mut pictures] {
            blobs.sort_by_key(|(day, wanted)| (core::cmp::Reverse(*day), *wanted));
            blobs.dedup();
        }
        readings.append(&mut pictures);
        Ok(readings.into_iter().map(|(_, wanted)| wanted).collect())
    }

    /// Blobs of a pupil that are here and that another device needs to show all that is shown here, the
    /// most wanted first.
    pub(crate) fn to_hand_on(&self, pupil: PupilId) -> Result<Vec<BlobId>, Problem> {
        let here = self.blobs_of(pupil)?;
        let books = self.books(pupil)?;
        let pages = books.pages.iter().rev();
        let readings = pages
            .clone()
            .flat_map(|page| readings_to_have(page, &here).collect::<Vec<_>>());
        let all: Vec<BlobId> = readings.chain(pages.map(|page| page.picture)).collect();
        Ok(all.into_iter().filter(|id| here.contains(id)).collect())
    }

    /// Whether a blob may be shown to a peer: it shares the pupil whose blob it is, and whose books name it.
    pub(crate) fn shows_blob(
        &self,
        peer: DeviceId,
        pupil: PupilId,
        id: BlobId,
    ) -> Result<bool, Problem> {
        if !self.shared_with(peer).contains(&pupil) {
            return Ok(false);
        }
        Ok(names(&*self.books(pupil)?, id) && self.has_blob(pupil, id)?)
    }

    /// Whether the books of a pupil that a peer does not share name a blob, or may.
    pub(crate) fn is_anothers(&self, peer: DeviceId, id: BlobId) -> bool {
        let circles = self.circles().into_iter();
        let mut others = circles.filter(|(_, log)| log.role(peer).is_none() && !log.erased);
        others.any(|(pupil, _)| self.books(pupil).map_or(true, |books| names(&books, id)))
    }

    /// Keeps something of a blob that came, if the pupil's books name it. Nothing else is written between
    /// the look and the keeping, so that nothing is kept whose page was forgotten meanwhile. Whether it
    /// was kept.
    pub(crate) fn keep_named(
        &self,
        pupil: PupilId,
        id: BlobId,
        keep: impl FnOnce() -> Result<(), StoreError>,
    ) -> Result<bool, Problem> {
        let mut named = false;
        self.unless_erased(pupil, |books| {
            named = books.is_some_and(|books| names(books, id));
            match named {
                true => keep().map_err(problem::store),
                false => Ok(()),
            }
        })?;
        Ok(named)
    }

    /// Keeps a whole blob that came, and whose name its bytes are known to have, as [`App::keep_named`].
    /// Nobody waits until its file is on the disk: what is left then is a row.
    pub(crate) fn keep_whole(
        &self,
        pupil: PupilId,
        id: BlobId,
        bytes: Vec<u8>,
    ) -> Result<bool, Problem> {
        let store = &self.inner.store;
        let ready = store.ready(id, bytes).map_err(problem::store)?;
        self.keep_named(pupil, id, || {
            store.keep_ready(ready, vec![belongs(pupil, id)])?;
            locked(&self.inner.damaged).remove(&id);
            Ok(())
        })
    }

    /// Says of the blobs in a folder of an earlier version whose they are: of those that belong to nobody
    /// yet, what the books name, in whatever version they were written.
    ///
    /// # Errors
    /// Some pupil's books cannot be read, or the disk is full. Those of the others are said all the same, and
    /// it is to be done again.
    pub(crate) fn assign_blobs(&self) -> Result<(), Problem> {
        if self.are_assigned()? {
            return Ok(());
        }
        let store = &self.inner.store;
        let mut cases = locked(&self.inner.cases);
        let here = store.blobs().map_err(problem::store)?;
        let mut free: BTreeSet<BlobId> = here.into_iter().collect();
        for (_, id) in self.all_blobs()? {
            free.remove(&id);
        }
        let mut writes = Vec::new();
        let mut done = Ok(());
        let pupils: Vec<PupilId> = cases.standings.keys().copied().collect();
        for pupil in pupils {
            match self.named_of(&mut cases, pupil, &free) {
                Ok(named) => {
                    let named = named.intersection(&free);
                    writes.extend(named.map(|id| belongs(pupil, *id)));
                }
                Err(problem) => done = done.and(Err(problem)),
            }
        }
        if done.is_ok() {
            writes.push(assigned());
        }
        store.transaction(writes).map_err(problem::store)?;
        done
    }

    /// Whether a blob that belongs to nobody is left over. Until it was said whose they all are, it may be
    /// anybody's.
    pub(super) fn are_assigned(&self) -> Result<bool, Problem> {
        let said = self.inner.store.setting(ASSIGNED);
        Ok(said.map_err(problem::store)?.is_some())
    }
}

/// A page's readings from the newest back to the newest that is here; all, where none is.
fn readings_to_have(page: &PageRecord, here: &BTreeSet<BlobId>) -> impl Iterator<Item = BlobId> {
    let readings = page.readings.iter().rev().map(|reading| reading.detail);
    let upto = readings.clone().position(|id| here.contains(&id));
    readings.take(upto.map_or(usize::MAX, |at| at + 1))
}

/// Whether a page that is shown names a blob.
pub(crate) fn names(books: &Books, id: BlobId) -> bool {
    let mut pages = books.pages.iter();
    let on_page = |page: &PageRecord| {
        page.picture == id || page.readings.iter().any(|reading| reading.detail == id)
    };
    pages.any(on_page)
}
