//! A photograph looked at, kept or dropped. Until then it waits on this device, also when the program ends.

mod looked;
mod waiting;

use std::sync::Arc;

use casefile::Edit;
use metrics::Page;
use units::{
    BlobId, Expectation, Fitness, Frame, Moment, PageId, PageRecord, Problem, PupilId, Reading,
    ReadingId, ReadingRecord, TaskKind,
};

use crate::App;
use crate::api::{
    Corner, KeepPage, KeptPage, Nothing, OfPupil, OfStaged, SetCorners, Staged, TakenPhoto,
    WaitingPhoto, WaitingPhotos,
};
use crate::book::append;
use crate::cases::keep;
use crate::crops::{packed, smaller};
use crate::device::locked;
use crate::verbs::off_thread;
use crate::{detail, problem};

pub(crate) use self::looked::Looked;
use self::waiting::Waiting;

/// Longest side of the photograph as it is shown, to set corners on.
const LONGEST_SHOWN: u32 = 1_600;

impl App {
    /// Looks at a photograph: finds the page in it and says whether it can be read. It waits from now on, also
    /// after a restart, until it is kept or dropped; no book has it yet.
    ///
    /// # Errors
    /// The bytes are no picture that can be read, there is no such pupil or task, as many wait already as may,
    /// or the disk is full. A photograph without a sheet is no error: the answer says so.
    pub fn stage_photo(
        &self,
        bytes: &[u8],
        taken: impl Into<TakenPhoto>,
    ) -> Result<Staged, Problem> {
        let TakenPhoto { about, instead_of } = taken.into();
        let instead_of = instead_of.as_deref();
        self.has_room(instead_of)?;
        let pupil = about.pupil;
        let task = match about.task {
            None => None,
            Some(task) => Some(self.task(pupil, task)?.ok_or_else(no_such_task)?),
        };
        let expect = self.expectation(pupil, task.as_ref())?;
        let photo = metrics::decode(bytes).map_err(problem::decode)?;
        let looked = Arc::new(Looked::at(&photo, expect, None));
        let id = PageId(self.random()?);
        let handle = id.to_string();
        let bare = metrics::bare(bytes).map_err(problem::decode)?;
        let kind = about.kind.unwrap_or(TaskKind::OwnWords);
        let answers = task.map_or((None, kind), |task| (Some(task.id), task.kind));
        let written_on = about.written_on.unwrap_or_else(|| self.today());
        let (waiting, bytes) = Waiting::new(id, &bare, pupil, answers, written_on, self.now());
        self.begin_waiting(&handle, &waiting, bytes, instead_of)?;
        self.remember_looked(&handle, &looked);
        Ok(looked.answer(handle))
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
        let of = all.filter(|(_, waiting)| waiting.pupil == input.pupil);
        let photos = of.map(|(handle, waiting)| WaitingPhoto {
            handle,
            task: waiting.task,
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
        let (_, looked) = self.looked(&input.handle)?;
        Ok(looked.answer(input.handle))
    }

    /// The picture of a staged photograph (JPEG).
    pub fn staged_picture(&self, handle: &str) -> Option<Vec<u8>> {
        let (_, looked) = self.looked(handle).ok()?;
        Some(looked.flat.as_ref()?.picture.clone())
    }

    /// As [`App::staged_picture`], off the caller's thread.
    pub async fn staged_picture_off_thread(&self, handle: String) -> Option<Vec<u8>> {
        let app = self.clone();
        let made = off_thread(move || Ok(app.staged_picture(&handle))).await;
        made.ok().flatten()
    }

    /// A staged photograph as it was taken, made smaller and without what the camera wrote into it (JPEG).
    pub fn staged_photo(&self, handle: &str) -> Option<Vec<u8>> {
        let waiting = self.waiting_photo(handle).ok()??;
        let photo = metrics::decode(&self.file_of(&waiting).ok()?).ok()?;
        Some(packed(&smaller(&photo.rgb, LONGEST_SHOWN, LONGEST_SHOWN)))
    }

    /// As [`App::staged_photo`], off the caller's thread.
    pub async fn staged_photo_off_thread(&self, handle: String) -> Option<Vec<u8>> {
        let app = self.clone();
        let made = off_thread(move || Ok(app.staged_photo(&handle))).await;
        made.ok().flatten()
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
        let looked = before.anew(&photo, corners).map_err(problem::page)?;
        self.remember_corners(&handle, corners)?;
        let looked = Arc::new(looked);
        self.remember_looked(&handle, &looked);
        Ok(looked.answer(handle))
    }

    /// Keeps a staged photograph: it is measured and goes into the book, and waits no more, all or nothing.
    ///
    /// # Errors
    /// The photograph is gone, a check failed and `despite` is not set, or the disk
    /// is full; the photograph then stays staged.
    pub fn keep_page(&self, input: KeepPage) -> Result<KeptPage, Problem> {
        self.keep_page_at(input, None)
    }

    /// Drops a staged photograph.
    ///
    /// # Errors
    /// The data folder cannot be written. What is gone already is dropped.
    pub fn drop_photo(&self, input: OfStaged) -> Result<Nothing, Problem> {
        self.stop_waiting(&input.handle)?;
        Ok(Nothing {})
    }

    /// Keeps a page that was measured elsewhere, with its picture and whole readings as they are: for
    /// whoever invents pages, and for checks that need many. Its maker is this device.
    ///
    /// # Errors
    /// There is no such pupil, the page is out of bounds, or the disk is full.
    pub fn keep_measured_page(
        &self,
        pupil: PupilId,
        page: PageRecord,
        blobs: Vec<Vec<u8>>,
    ) -> Result<KeptPage, Problem> {
        let id = PageId(self.random()?);
        let record = PageRecord {
            id,
            added_by: self.id(),
            ..page
        };
        self.commit(pupil, vec![Edit::AddPage(record)], blobs)?;
        Ok(KeptPage { page: id })
    }

    /// As [`App::keep_page`], said to have been measured at that moment where that is not now.
    pub(crate) fn keep_page_at(
        &self,
        input: KeepPage,
        at: Option<Moment>,
    ) -> Result<KeptPage, Problem> {
        let KeepPage { handle, despite } = input;
        let (waiting, looked) = self.looked(&handle)?;
        let none = || problem::page(metrics::PageError::NoPaper);
        let flat = looked.flat.as_ref().ok_or_else(none)?;
        if !flat.fitness.fit() && !despite {
            return Err(problem::unfit(&flat.fitness));
        }
        let expect = &looked.expect;
        // Read from the picture as it is kept, so that the figures can be made again
        // from what the book holds.
        let page =
            metrics::page_from_picture(&flat.picture, &flat.frame).map_err(problem::decode)?;
        let (mut reading, packed) = self.read_page(&page, expect, flat.fitness.clone(), None)?;
        if let Some(at) = at {
            reading.made_at = at;
        }
        let id = PageId(self.random()?);
        let record = PageRecord {
            id,
            task: waiting.task,
            written_on: waiting.written_on,
            kind: waiting.kind,
            text: expect.text.clone(),
            minutes: expect.minutes,
            paper: expect.paper,
            ruling: expect.ruling,
            model: expect.model.clone(),
            picture: BlobId(*blake3::hash(&flat.picture).as_bytes()),
            added_by: self.id(),
            readings: vec![reading],
            looked_at: None,
        };
        let pupil = waiting.pupil;
        self.in_case(pupil, |case, signer| {
            // It may have been kept or dropped while it was measured.
            let waiting = self.waiting_photo(&handle)?.ok_or_else(not_staged)?;
            let change = case.write(signer, Edit::AddPage(record));
            let mut writes = vec![append(&change.map_err(problem::write)?)];
            let blobs = [flat.picture.clone(), packed].into_iter();
            writes.extend(blobs.flat_map(|bytes| keep(pupil, bytes)));
            writes.extend(waiting.gone(&handle));
            Ok(((), writes))
        })?;
        locked(&self.inner.looked).remove(&handle);
        Ok(KeptPage { page: id })
    }

    /// Measures a flat page; gives the record for the book and the detail for the
    /// blob that it names. `frame` takes the place of the page's own in the detail.
    pub(crate) fn read_page(
        &self,
        page: &Page,
        expect: &Expectation,
        fitness: Fitness,
        frame: Option<Frame>,
    ) -> Result<(ReadingRecord, Vec<u8>), Problem> {
        let mut reading: Reading = metrics::read_page(page, expect, fitness);
        if let Some(frame) = frame {
            reading.frame = frame;
        }
        let packed = detail::pack(&reading);
        let record = ReadingRecord {
            id: ReadingId(self.random()?),
            engine: reading.engine,
            made_at: self.now(),
            measures: without_places(reading.measures),
            detail: BlobId(*blake3::hash(&packed).as_bytes()),
        };
        Ok((record, packed))
    }
}

fn without_places(mut measures: Vec<units::Measure>) -> Vec<units::Measure> {
    for measure in &mut measures {
        if let units::Outcome::Measured { places, .. } = &mut measure.outcome {
            places.clear();
        }
    }
    measures
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

fn not_staged() -> Problem {
    Problem::new(
        "photo-gone",
        "This photograph is no longer waiting.",
        "Choose or take the photograph again.",
    )
}
