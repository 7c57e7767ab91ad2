//! Showing a page, looking at it, and reading it again.

use casefile::{Edit, PupilView as Books};
use units::{
    AmendmentRecord, BlobId, Expectation, PageId, PageRecord, Problem, PupilId, Reading, Role,
};

use crate::App;
use crate::api::{Nothing, OfPage, PageView, SetMinutes, SetRuling, SetStarting, SetText};
use crate::device::locked;
use crate::figures::{figures, mark_by_hand};
use crate::pace::study;
use crate::pupils::is_about_letters;
use crate::tasks::tidy_lines;
use crate::{detail, problem};

impl App {
    /// One page with all that is known of it.
    ///
    /// # Errors
    /// There is no such page on this device.
    pub fn page(&self, input: OfPage) -> Result<PageView, Problem> {
        let books = self.books(input.pupil)?;
        let at = position(&books, input.page)?;
        let record = books.pages[at].clone();
        let mut reading = self.newest_reading(input.pupil, &record)?;
        let letters_shown = self.shows_letters(&books, &record)?;
        let mut figures = figures(&record, page_before(&books, at));
        if let Some(reading) = &reading {
            mark_by_hand(&mut figures, reading);
        }
        if !letters_shown {
            figures.retain(|figure| !is_about_letters(figure.aspect));
            reading = reading.map(without_letter_findings);
        }
        Ok(PageView {
            starting: books.starting.contains(&input.page),
            letters_shown,
            pupil: input.pupil,
            picture_here: self.has_blob(input.pupil, record.picture)?,
            reading,
            figures,
            pace_study: study(),
            marks: books
                .marks
                .iter()
                .filter(|mark| mark.page == input.page)
                .cloned()
                .collect(),
            amendments: amendments_of(&books, input.page),
            earlier: at.checked_sub(1).map(|at| books.pages[at].id),
            later: books.pages.get(at + 1).map(|page| page.id),
            record,
        })
    }

    /// Says that the tutor has looked at a page.
    ///
    /// # Errors
    /// This is not the tutor's device, or there is no such page.
    pub fn look(&self, input: OfPage) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        if self
            .page_record(input.pupil, input.page)?
            .looked_at
            .is_none()
        {
            let edit = Edit::LookAt {
                page: input.page,
                at: self.now(),
            };
            self.commit(input.pupil, vec![edit], Vec::new())?;
        }
        Ok(Nothing {})
    }

    /// Says what an adult read on the page; it is measured again with it.
    ///
    /// # Errors
    /// The text is empty, the picture is not here yet, or the disk is full.
    pub fn set_text(&self, input: SetText) -> Result<Nothing, Problem> {
        let text = tidy_lines(input.text);
        if text.is_empty() {
            return Err(Problem::new(
                "text-missing",
                "There is no text yet.",
                "Type what stands on the page, line by line.",
            ));
        }
        let page = input.page;
        self.reread(input.pupil, page, |record, _| {
            record.text = Some(text.clone());
            let text = Some(text);
            Ok(vec![Edit::SetText { page, text }])
        })
    }

    /// Says which ruling the page was written on; it is measured again with it.
    ///
    /// # Errors
    /// The ruling is none, the picture is not here yet, or the disk is full.
    pub fn set_ruling(&self, input: SetRuling) -> Result<Nothing, Problem> {
        let (page, ruling) = (input.page, input.ruling);
        self.reread(input.pupil, page, |record, _| {
            record.ruling = ruling;
            Ok(vec![Edit::SetRuling { page, ruling }])
        })
    }

    /// Says whether a page stands as part of the starting point.
    ///
    /// # Errors
    /// This is not the tutor's device, or there is no such page.
    pub fn set_starting(&self, input: SetStarting) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let (page, starting) = (input.page, input.starting);
        let edit = Edit::SetStarting { page, starting };
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Says how many whole minutes the writing took, by an adult's clock; the page is measured again
    /// with it.
    ///
    /// # Errors
    /// The minutes are out of range, the picture is not here yet, or the disk is full.
    pub fn set_minutes(&self, input: SetMinutes) -> Result<Nothing, Problem> {
        let likely = |minutes: &u16| (1..=casefile::MAX_MINUTES).contains(minutes);
        if !input.minutes.as_ref().is_none_or(likely) {
            return Err(Problem::new(
                "minutes-out-of-range",
                "The minutes are out of range.",
                format!(
                    "Give 1 to {} whole minutes, or leave them out where nobody timed the page.",
                    casefile::MAX_MINUTES
                ),
            ));
        }
        let (page, minutes) = (input.page, input.minutes);
        self.reread(input.pupil, page, |record, _| {
            record.minutes = minutes;
            Ok(vec![Edit::SetMinutes { page, minutes }])
        })
    }

    /// Measures a kept page again, with the engine as it is now.
    ///
    /// # Errors
    /// The picture is not here yet, or the disk is full.
    pub fn measure_again(&self, input: OfPage) -> Result<Nothing, Problem> {
        self.reread(input.pupil, input.page, |_, _| Ok(Vec::new()))
    }

    /// A picture, if it is one and here (JPEG).
    ///
    /// # Errors
    /// The data folder cannot be read.
    pub fn picture(&self, id: BlobId) -> Result<Option<Vec<u8>>, Problem> {
        let bytes = self.bytes_of(id)?;
        // Blobs of other kinds, or what a peer called a picture, never reach a screen as one.
        Ok(bytes.filter(|bytes| bytes.starts_with(&[0xFF, 0xD8, 0xFF])))
    }

    pub(crate) fn page_record(&self, pupil: PupilId, page: PageId) -> Result<PageRecord, Problem> {
        let books = self.books(pupil)?;
        let at = position(&books, page)?;
        Ok(books.pages[at].clone())
    }

    /// The newest whole reading that is here: a newer one may be yet to come.
    pub(crate) fn newest_reading(
        &self,
        pupil: PupilId,
        page: &PageRecord,
    ) -> Result<Option<Reading>, Problem> {
        for record in page.readings.iter().rev() {
            if let Some(bytes) = self.blob_of(pupil, record.detail)? {
                return Ok(detail::unpack(&bytes));
            }
        }
        Ok(None)
    }

    /// Measures a kept page again after `change`, which is told what is known of the page and what was
    /// put right on it, oldest first, and gives the edits that make it so. They are written together
    /// with the new reading. One page after the other, so that none is read without what another just
    /// changed.
    pub(crate) fn reread(
        &self,
        pupil: PupilId,
        page: PageId,
        change: impl FnOnce(&mut PageRecord, &mut Vec<AmendmentRecord>) -> Result<Vec<Edit>, Problem>,
    ) -> Result<Nothing, Problem> {
        let _turn = locked(&self.inner.rereading);
        let books = self.books(pupil)?;
        let mut record = books.pages[position(&books, page)?].clone();
        let mut put_right = amendments_of(&books, page);
        let mut edits = change(&mut record, &mut put_right)?;
        let not_here = || {
            Problem::new(
                "picture-not-here",
                "The picture of this page has not arrived yet.",
                "Meet the other device, then try again.",
            )
        };
        let before = self.newest_reading(pupil, &record)?;
        let before = before.ok_or_else(not_here)?;
        let picture = self.blob_of(pupil, record.picture)?;
        let flat = metrics::page_from_picture(&picture.ok_or_else(not_here)?, &before.frame)
            .map_err(problem::decode)?;
        let expect = Expectation {
            paper: record.paper,
            ruling: record.ruling,
            model: record.model,
            text: record.text,
            minutes: record.minutes,
            amendments: put_right.iter().map(|known| known.what).collect(),
        };
        let (reading, packed) = self.read_page(&flat, &expect, before.fitness, None)?;
        edits.push(Edit::AddReading { page, reading });
        self.commit(pupil, edits, vec![packed])?;
        Ok(Nothing {})
    }
}

/// A reading without what the program made of the letters and joins.
fn without_letter_findings(mut reading: Reading) -> Reading {
    for letter in &mut reading.letters {
        letter.reads = None;
        letter.faults.clear();
        letter.bowl = None;
    }
    reading.joins.clear();
    reading
        .measures
        .retain(|measure| !is_about_letters(measure.name.aspect()));
    reading
}

/// What was put right on a page, oldest first.
pub(crate) fn amendments_of(books: &Books, page: PageId) -> Vec<AmendmentRecord> {
    let all = books.amendments.iter();
    all.filter(|amendment| amendment.page == page)
        .cloned()
        .collect()
}

fn position(books: &Books, page: PageId) -> Result<usize, Problem> {
    books
        .pages
        .iter()
        .position(|known| known.id == page)
        .ok_or_else(|| {
            Problem::new(
                "no-such-page",
                "This page is not on this device.",
                "Meet the other device, then try again.",
            )
        })
}

/// The page before of the same kind; kinds are never compared with each other.
pub(crate) fn page_before(books: &Books, at: usize) -> Option<&PageRecord> {
    let kind = books.pages[at].kind;
    books.pages[..at]
        .iter()
        .rev()
        .find(|page| page.kind == kind)
}
