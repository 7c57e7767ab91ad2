//! A page is kept: it is measured, and goes into the book.

use std::sync::Arc;

use casefile::Edit;
use metrics::Page;
use units::{
    BlobId, Expectation, Fitness, Frame, Moment, PageId, PageRecord, Problem, PupilId, Reading,
    ReadingId, ReadingRecord,
};

use super::looked::Flat;
use super::{Looked, Waiting, photo_gone};
use crate::App;
use crate::api::{KeepPage, KeptPage};
use crate::book::append;
use crate::cases::keep;
use crate::{detail, problem};

/// A photograph that waits, measured.
pub(super) struct Measured {
    waiting: Waiting,
    looked: Arc<Looked>,
    reading: ReadingRecord,
    /// The whole reading, as a blob.
    packed: Vec<u8>,
}

impl App {
    /// Keeps a staged photograph: it is measured and goes into the book, and waits no more, all or nothing.
    ///
    /// # Errors
    /// The photograph is gone, a check failed and `despite` is not set, its corners were put elsewhere
    /// meanwhile, or the disk is full; the photograph then stays staged.
    pub fn keep_page(&self, input: KeepPage) -> Result<KeptPage, Problem> {
        self.keep_page_at(input, None)
    }

    /// As [`App::keep_page`], said to have been measured at that moment where that is not now.
    pub(crate) fn keep_page_at(
        &self,
        input: KeepPage,
        at: Option<Moment>,
    ) -> Result<KeptPage, Problem> {
        let mut measured = self.measured(&input)?;
        if let Some(at) = at {
            measured.reading.made_at = at;
        }
        self.keep_measured(measured)
    }

    pub(super) fn measured(&self, input: &KeepPage) -> Result<Measured, Problem> {
        let (waiting, looked) = self.looked(&input.handle)?;
        let flat = looked.flat.as_ref().ok_or_else(no_sheet)?;
        if !flat.fitness.fit() && !input.despite {
            return Err(problem::unfit(&flat.fitness));
        }
        // Read from the picture as it is kept, so that the figures can be made again
        // from what the book holds.
        let page =
            metrics::page_from_picture(&flat.picture, &flat.frame).map_err(problem::decode)?;
        let fitness = flat.fitness.clone();
        let (reading, packed) = self.read_page(&page, &looked.expect, fitness, None)?;
        Ok(Measured {
            waiting,
            looked,
            reading,
            packed,
        })
    }

    pub(super) fn keep_measured(&self, measured: Measured) -> Result<KeptPage, Problem> {
        let Measured {
            waiting,
            looked,
            reading,
            packed,
        } = measured;
        let Flat { picture, .. } = looked.flat.as_ref().ok_or_else(no_sheet)?;
        let expect = &looked.expect;
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
            picture: BlobId(*blake3::hash(picture).as_bytes()),
            added_by: self.id(),
            readings: vec![reading],
            looked_at: None,
        };
        let pupil = waiting.pupil;
        self.in_case(pupil, |case, signer| {
            // It may have been kept or dropped while it was measured, or its corners put elsewhere.
            let now = self.waiting_photo(waiting.handle())?;
            let now = now.ok_or_else(photo_gone)?;
            if now.corners != looked.by_hand {
                return Err(corners_moved());
            }
            let change = case.write(signer, Edit::AddPage(record));
            let mut writes = vec![append(&change.map_err(problem::write)?)];
            let blobs = [picture.clone(), packed].into_iter();
            writes.extend(blobs.flat_map(|bytes| keep(pupil, bytes)));
            writes.extend(now.gone());
            self.forget_seen(waiting.handle());
            Ok(((), writes))
        })?;
        Ok(KeptPage { page: id })
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

fn no_sheet() -> Problem {
    problem::page(metrics::PageError::NoPaper)
}

fn corners_moved() -> Problem {
    Problem::new(
        "corners-moved",
        "The corners of this page were put elsewhere meanwhile, on another screen.",
        "Look at the page as it is now; then keep it.",
    )
}
