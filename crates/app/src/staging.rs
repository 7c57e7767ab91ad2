//! A photograph looked at, kept or dropped. Until then it waits on this device, also when the program ends.

mod begin;
mod keep;
mod looked;
mod pictures;
#[cfg(test)]
mod tests;
mod waiting;

use std::sync::Arc;

use metrics::DecodeError;
use store::MAX_BLOB_BYTES;
use units::{PageId, Problem, PupilId, TaskKind};

use crate::App;
use crate::api::{
    Corner, Nothing, OfPupil, OfStaged, SetCorners, Staged, TakenPhoto, WaitingPhoto, WaitingPhotos,
};
use crate::problem;
use crate::verbs::off_thread;

use self::begin::New;
pub(crate) use self::looked::{Looked, Seen};
use self::pictures::{LONGEST_SHOWN, small};
pub(crate) use self::waiting::{PHOTO_WAITS, Waiting, whose_photo};

impl App {
    /// Looks at a photograph: finds the page in it and says whether it can be read. It waits from now on, also
    /// after a restart, until it is kept or dropped; no book has it yet.
    ///
    /// One that is to take the place of another that waits answers what that one does. That one is let go of
    /// where the page is found in the new one, and can be read there or could not be read in the other either.
    ///
    /// # Errors
    /// The bytes are no picture that can be read, there is no such pupil or task, the photograph that it is to
    /// take the place of is another pupil's, as many wait already as may, or the disk is full: then nothing is
    /// changed. A photograph without a sheet is no error: the answer says so.
    pub fn stage_photo(
        &self,
        bytes: &[u8],
        taken: impl Into<TakenPhoto>,
    ) -> Result<Staged, Problem> {
        let TakenPhoto { about, instead_of } = taken.into();
        let pupil = about.pupil;
        let earlier = self.earlier(pupil, instead_of.as_deref())?;
        self.has_room(earlier.as_ref())?;
        let (task, kind, written_on) = match &earlier {
            Some(it) => (self.task_of(it)?, it.kind, it.written_on),
            None => {
                let task = about
                    .task
                    .map(|task| self.task(pupil, task)?.ok_or_else(no_such_task));
                let task = task.transpose()?;
                let kind = about.kind.unwrap_or(TaskKind::OwnWords);
                let kind = task.as_ref().map_or(kind, |task| task.kind);
                (task, kind, about.written_on.unwrap_or_else(|| self.today()))
            }
        };
        let expect = self.expectation(pupil, task.as_ref())?;
        let photo = metrics::decode(bytes).map_err(problem::decode)?;
        let bare = metrics::bare(bytes).map_err(problem::decode)?;
        let id = PageId(self.random()?);
        let answers = (task.map(|task| task.id), kind);
        let (waiting, bytes) = Waiting::new(id, &bare, pupil, answers, written_on, self.now());
        if bytes.len() > MAX_BLOB_BYTES {
            let (bytes, max) = (bytes.len(), MAX_BLOB_BYTES);
            return Err(problem::decode(DecodeError::TooManyBytes { bytes, max }));
        }
        let looked = Arc::new(Looked::at(&photo, expect, None));
        let gives_way = match &earlier {
            Some(it) => looked.is_fit() || looked.flat.is_some() && self.is_unfit(it),
            None => false,
        };
        let mut staged = looked.answer(&waiting);
        let new = New {
            waiting,
            bytes,
            looked,
            small: small(&photo),
        };
        staged.earlier_stays = self.begin_waiting(new, earlier.as_ref(), gives_way)?;
        Ok(staged)
    }

    /// As [`App::stage_photo`], off the caller's thread: for shells that serve a screen meanwhile.
    ///
    /// # Errors
    /// As [`App::stage_photo`], and `broke-off` where the program stumbles over the photograph.
    pub async fn stage_photo_off_thread(
        &self,
        bytes: impl AsRef<[u8]> + Send + 'static,
        taken: impl Into<TakenPhoto>,
    ) -> Result<Staged, Problem> {
        let (app, taken) = (self.clone(), taken.into());
        off_thread(move || app.stage_photo(bytes.as_ref(), taken)).await
    }

    /// The photographs of a pupil that wait on this device, the longest first.
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn waiting_photos(&self, input: OfPupil) -> Result<WaitingPhotos, Problem> {
        let all = self.all_waiting()?.into_iter();
        let of = all.filter(|waiting| waiting.pupil == input.pupil);
        let photos = of.map(|waiting| WaitingPhoto {
            handle: waiting.handle().to_owned(),
            task: waiting.task,
            kind: waiting.kind,
            written_on: waiting.written_on,
            since: waiting.since,
        });
        Ok(WaitingPhotos {
            photos: photos.collect(),
        })
    }

    /// Looks at a photograph again that waits.
    ///
    /// # Errors
    /// The photograph is gone, or its file is damaged.
    pub fn look_again(&self, input: OfStaged) -> Result<Staged, Problem> {
        let (waiting, looked) = self.looked(&input.handle)?;
        Ok(looked.answer(&waiting))
    }

    /// Says where the sheet's corners are in a staged photograph, or looks for them anew.
    ///
    /// # Errors
    /// The photograph is gone, the corners make no sheet, none is found, or the disk is full; the photograph
    /// then stays as it was.
    pub fn set_corners(&self, input: SetCorners) -> Result<Staged, Problem> {
        let SetCorners { handle, corners } = input;
        let corners = corners.map(|corners| corners.map(to_the_millionth));
        let (waiting, before) = self.looked(&handle)?;
        let photo = metrics::decode(&self.file_of(&waiting)?).map_err(problem::decode)?;
        let looked = Arc::new(before.anew(&photo, corners).map_err(problem::page)?);
        self.remember_corners(&handle, &looked)?;
        Ok(looked.answer(&waiting))
    }

    /// Drops a staged photograph.
    ///
    /// # Errors
    /// The data folder cannot be written. What is gone already is dropped.
    pub fn drop_photo(&self, input: OfStaged) -> Result<Nothing, Problem> {
        self.stop_waiting(&input.handle)?;
        Ok(Nothing {})
    }

    /// The photograph that another one is to take the place of; `None` where it waits no more, for then the
    /// new one is one like any other.
    fn earlier(&self, pupil: PupilId, handle: Option<&str>) -> Result<Option<Waiting>, Problem> {
        let Some(earlier) = handle.map_or(Ok(None), |handle| self.waiting_photo(handle))? else {
            return Ok(None);
        };
        match earlier.pupil == pupil {
            true => Ok(Some(earlier)),
            false => Err(Problem::new(
                "photo-of-another",
                "The photograph that this one is to take the place of is another pupil's.",
                "Nothing was changed. Add this one as a new page of its own pupil.",
            )),
        }
    }

    /// Whether a photograph was looked at, and its page cannot be read.
    fn is_unfit(&self, waiting: &Waiting) -> bool {
        let looked = self.looked(waiting.handle());
        looked.is_ok_and(|(_, looked)| !looked.is_fit())
    }
}

/// As it is kept, so that it is the same after a restart: finer than a pixel of any photograph.
fn to_the_millionth(Corner { x, y }: Corner) -> Corner {
    let rounded = |share: f64| (share * 1e6).round() / 1e6;
    Corner {
        x: rounded(x),
        y: rounded(y),
    }
}

fn no_such_task() -> Problem {
    Problem::new(
        "no-such-task",
        "This task is not on this device.",
        "Choose a task from the list, or meet the tutor's device first.",
    )
}

/// A photograph waits no longer.
pub fn photo_gone() -> Problem {
    Problem::new(
        "photo-gone",
        "This photograph waits no longer.",
        "It was kept or let go on another screen, perhaps on another device: look among the pages first.",
    )
}
