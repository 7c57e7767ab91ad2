//! A photograph looked at, kept or dropped.

use casefile::Edit;
use metrics::Page;
use units::{
    BlobId, Day, Expectation, Fitness, Frame, Moment, PageId, PageRecord, Problem, PupilId,
    Reading, ReadingId, ReadingRecord, TaskId, TaskKind,
};

use crate::App;
use crate::api::{
    Corner, KeepPage, KeptPage, Nothing, OfStaged, SetCorners, StagePhoto, Staged, advise,
};
use crate::crops::{packed, smaller};
use crate::device::locked;
use crate::verbs::off_thread;
use crate::{detail, problem};

/// Photographs that may wait at once; the oldest makes room.
const MOST_WAITING: usize = 4;

/// Longest side of the photograph as it is shown, to set corners on.
const LONGEST_SHOWN: u32 = 1_600;

/// A photograph that waits to be kept: all that the book needs, but measured only then.
pub(crate) struct StagedPage {
    about: StagePhoto,
    task: Option<TaskId>,
    kind: TaskKind,
    expect: Expectation,
    written_on: Day,
    /// The photograph as it came, so that the sheet can be looked for again.
    photo: Vec<u8>,
    /// Its size, upright.
    photo_px: (u32, u32),
    flat: Option<Flat>,
    at: Moment,
    /// When it is said to have been measured, where that is not now.
    pub(crate) kept_at: Option<Moment>,
}

/// The sheet that was found in a photograph.
struct Flat {
    fitness: Fitness,
    frame: Frame,
    picture: Vec<u8>,
    size_px: (u32, u32),
    corners: [Corner; 4],
}

impl Flat {
    fn of(page: &Page) -> Self {
        let (width, height) = page.photo_size.unwrap_or((1, 1));
        let seen = page
            .frame
            .to_photo
            .as_ref()
            .map_or([(0.0, 0.0); 4], |mesh| mesh.corners());
        Self {
            fitness: metrics::fitness(page),
            picture: metrics::encode_page(page),
            size_px: page.rgb.dimensions(),
            corners: seen.map(|(x, y)| Corner {
                x: x / f64::from(width),
                y: y / f64::from(height),
            }),
            frame: page.frame.clone(),
        }
    }
}

impl App {
    /// Looks at a photograph: finds the page in it and says whether it can be read.
    /// Nothing is kept yet.
    ///
    /// # Errors
    /// The bytes are no picture that can be read, or there is no such pupil or task. A photograph without a
    /// sheet is no error: the answer says so.
    pub fn stage_photo(&self, bytes: &[u8], about: StagePhoto) -> Result<Staged, Problem> {
        let (task, kind, expect) = self.expected(&about)?;
        let photo = metrics::decode(bytes).map_err(problem::decode)?;
        // Where no sheet is found, a person can still show its corners.
        let flat = metrics::find_page(&photo, &expect).ok();
        let handle = PageId(self.random()?).to_string();
        let written_on = about.written_on.unwrap_or_else(|| self.today());
        let staged = StagedPage {
            task,
            kind,
            expect,
            written_on,
            photo: bytes.to_vec(),
            photo_px: photo.rgb.dimensions(),
            flat: flat.as_ref().map(Flat::of),
            at: self.now(),
            kept_at: None,
            about,
        };
        let answer = answer(handle.clone(), &staged);
        let mut waiting = locked(&self.inner.staged);
        while waiting.len() >= MOST_WAITING {
            let oldest = waiting.iter().min_by_key(|(_, staged)| staged.at);
            let Some(oldest) = oldest.map(|(handle, _)| handle.clone()) else {
                break;
            };
            waiting.remove(&oldest);
        }
        waiting.insert(handle, staged);
        Ok(answer)
    }

    /// As [`App::stage_photo`], off the caller's thread: for shells that serve a screen meanwhile.
    ///
    /// # Errors
    /// As [`App::stage_photo`], and `broke-off` where the program stumbles over the photograph.
    pub async fn stage_photo_off_thread(
        &self,
        bytes: impl AsRef<[u8]> + Send + 'static,
        about: StagePhoto,
    ) -> Result<Staged, Problem> {
        let app = self.clone();
        off_thread(move || app.stage_photo(bytes.as_ref(), about)).await
    }

    /// The picture of a staged photograph (JPEG).
    pub fn staged_picture(&self, handle: &str) -> Option<Vec<u8>> {
        locked(&self.inner.staged)
            .get(handle)
            .and_then(|staged| Some(staged.flat.as_ref()?.picture.clone()))
    }

    /// A staged photograph as it was taken, made smaller and without what the camera wrote into it (JPEG).
    pub fn staged_photo(&self, handle: &str) -> Option<Vec<u8>> {
        let photo = locked(&self.inner.staged).get(handle)?.photo.clone();
        let photo = metrics::decode(&photo).ok()?;
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
    /// The photograph is gone, the corners make no sheet, or none is found; the photograph then stays as
    /// it was.
    pub fn set_corners(&self, input: SetCorners) -> Result<Staged, Problem> {
        let (bytes, expect) = {
            let waiting = locked(&self.inner.staged);
            let staged = waiting.get(&input.handle).ok_or_else(not_staged)?;
            (staged.photo.clone(), staged.expect.clone())
        };
        let photo = metrics::decode(&bytes).map_err(problem::decode)?;
        let (width, height) = photo.rgb.dimensions();
        let page = match input.corners {
            None => metrics::find_page(&photo, &expect),
            Some(corners) => {
                let px = corners.map(|at| (at.x * f64::from(width), at.y * f64::from(height)));
                metrics::find_page_at(&photo, &expect, px)
            }
        };
        let flat = Flat::of(&page.map_err(problem::page)?);
        let mut waiting = locked(&self.inner.staged);
        let staged = waiting.get_mut(&input.handle).ok_or_else(not_staged)?;
        staged.flat = Some(flat);
        Ok(answer(input.handle, staged))
    }

    /// Keeps a staged photograph: it is measured and goes into the book.
    ///
    /// # Errors
    /// The photograph is gone, a check failed and `despite` is not set, or the disk
    /// is full; the photograph then stays staged.
    pub fn keep_page(&self, input: KeepPage) -> Result<KeptPage, Problem> {
        let staged = locked(&self.inner.staged)
            .remove(&input.handle)
            .ok_or_else(not_staged)?;
        let kept = self.keep(&staged, input.despite);
        if kept.is_err() {
            locked(&self.inner.staged).insert(input.handle, staged);
        }
        kept
    }

    /// Drops a staged photograph.
    ///
    /// # Errors
    /// None: what is gone already is dropped.
    pub fn drop_photo(&self, input: OfStaged) -> Result<Nothing, Problem> {
        locked(&self.inner.staged).remove(&input.handle);
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

    fn keep(&self, staged: &StagedPage, despite: bool) -> Result<KeptPage, Problem> {
        let none = || problem::page(metrics::PageError::NoPaper);
        let flat = staged.flat.as_ref().ok_or_else(none)?;
        if !flat.fitness.fit() && !despite {
            return Err(problem::unfit(&flat.fitness));
        }
        // Read from the picture as it is kept, so that the figures can be made again
        // from what the book holds.
        let page =
            metrics::page_from_picture(&flat.picture, &flat.frame).map_err(problem::decode)?;
        let (mut reading, packed) =
            self.read_page(&page, &staged.expect, flat.fitness.clone(), None)?;
        if let Some(at) = staged.kept_at {
            reading.made_at = at;
        }
        let id = PageId(self.random()?);
        let record = PageRecord {
            id,
            task: staged.task,
            written_on: staged.written_on,
            kind: staged.kind,
            text: staged.expect.text.clone(),
            minutes: staged.expect.minutes,
            paper: staged.expect.paper,
            ruling: staged.expect.ruling,
            model: staged.expect.model.clone(),
            picture: BlobId(*blake3::hash(&flat.picture).as_bytes()),
            added_by: self.id(),
            readings: vec![reading],
            looked_at: None,
        };
        let blobs = vec![flat.picture.clone(), packed];
        self.commit(staged.about.pupil, vec![Edit::AddPage(record)], blobs)?;
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

    /// What is known of the page before it is looked at: from the task, or from the profile.
    fn expected(
        &self,
        about: &StagePhoto,
    ) -> Result<(Option<TaskId>, TaskKind, Expectation), Problem> {
        let profile = self.profile(about.pupil)?;
        let Some(task) = about.task else {
            let expect = Expectation {
                paper: profile.paper,
                ruling: profile.ruling,
                model: profile.model,
                text: None,
                minutes: None,
                amendments: Vec::new(),
            };
            return Ok((None, about.kind.unwrap_or(TaskKind::OwnWords), expect));
        };
        let books = self.books(about.pupil)?;
        let found = books.tasks.iter().find(|known| known.id == task);
        let task = found.ok_or_else(|| {
            Problem::new(
                "no-such-task",
                "This task is not on this device.",
                "Choose a task from the list, or meet the tutor's device first.",
            )
        })?;
        let expect = Expectation {
            paper: task.paper,
            ruling: task.ruling,
            model: profile.model,
            text: task.text.clone(),
            minutes: None,
            amendments: Vec::new(),
        };
        Ok((Some(task.id), task.kind, expect))
    }
}

fn answer(handle: String, staged: &StagedPage) -> Staged {
    let (photo_width_px, photo_height_px) = staged.photo_px;
    let longest = photo_width_px.max(photo_height_px);
    let shown = |side: u32| match longest > LONGEST_SHOWN {
        true => {
            let share = f64::from(LONGEST_SHOWN) / f64::from(longest);
            ((f64::from(side) * share).round() as u32).max(1)
        }
        false => side,
    };
    let flat = staged.flat.as_ref();
    let (width_px, height_px) = flat.map_or((0, 0), |flat| flat.size_px);
    Staged {
        handle,
        found: flat.is_some(),
        fit: flat.is_some_and(|flat| flat.fitness.fit()),
        checks: flat.map_or_else(Vec::new, |flat| advise(&flat.fitness)),
        width_px,
        height_px,
        corners: flat.map(|flat| flat.corners),
        photo_width_px: shown(photo_width_px),
        photo_height_px: shown(photo_height_px),
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

fn not_staged() -> Problem {
    Problem::new(
        "photo-gone",
        "This photograph is no longer waiting.",
        "Choose or take the photograph again.",
    )
}
