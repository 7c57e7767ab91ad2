//! A photograph looked at, kept or dropped.

use casefile::Edit;
use metrics::Page;
use units::{
    BlobId, Day, Expectation, Fitness, Frame, Moment, PageId, PageRecord, Problem, PupilId,
    Reading, ReadingId, ReadingRecord, TaskId, TaskKind,
};

use crate::App;
use crate::api::{KeepPage, KeptPage, Nothing, OfStaged, StagePhoto, Staged, advise};
use crate::device::locked;
use crate::verbs::off_thread;
use crate::{detail, problem};

/// Photographs that may wait at once; the oldest makes room.
const MOST_WAITING: usize = 4;

/// A photograph that can be kept: all that the book needs, but measured only then.
pub(crate) struct StagedPage {
    about: StagePhoto,
    task: Option<TaskId>,
    kind: TaskKind,
    expect: Expectation,
    written_on: Day,
    fitness: Fitness,
    frame: Frame,
    picture: Vec<u8>,
    at: Moment,
}

impl App {
    /// Looks at a photograph: finds the page in it and says whether it can be read.
    /// Nothing is kept yet.
    ///
    /// # Errors
    /// The bytes are no picture that can be read, no page is found in it, or there
    /// is no such pupil or task.
    pub fn stage_photo(&self, bytes: &[u8], about: StagePhoto) -> Result<Staged, Problem> {
        let (task, kind, expect) = self.expected(&about)?;
        let photo = metrics::decode(bytes).map_err(problem::decode)?;
        let page = metrics::find_page(&photo, &expect).map_err(problem::page)?;
        let fitness = metrics::fitness(&page);
        let handle = PageId(self.random()?).to_string();
        let answer = Staged {
            handle: handle.clone(),
            fit: fitness.fit(),
            checks: advise(&fitness),
            width_px: page.rgb.width(),
            height_px: page.rgb.height(),
        };
        let written_on = about.written_on.unwrap_or_else(|| self.today());
        let staged = StagedPage {
            task,
            kind,
            expect,
            written_on,
            fitness,
            picture: metrics::encode_page(&page),
            frame: page.frame,
            at: self.now(),
            about,
        };
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
            .map(|staged| staged.picture.clone())
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
        if !staged.fitness.fit() && !despite {
            return Err(problem::unfit(&staged.fitness));
        }
        // Read from the picture as it is kept, so that the figures can be made again
        // from what the book holds.
        let page =
            metrics::page_from_picture(&staged.picture, &staged.frame).map_err(problem::decode)?;
        let (reading, packed) =
            self.read_page(&page, &staged.expect, staged.fitness.clone(), None)?;
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
            picture: BlobId(*blake3::hash(&staged.picture).as_bytes()),
            added_by: self.id(),
            readings: vec![reading],
            looked_at: None,
        };
        let blobs = vec![staged.picture.clone(), packed];
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
