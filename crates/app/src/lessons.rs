//! When pupils come, and what came in since.

use casefile::{PracticeEdit, PupilView as Books};
use units::{Day, Problem, Role};

use crate::App;
use crate::api::{Nothing, SetLesson, SetOrder};
use crate::book::append;
use crate::problem;

impl App {
    /// Sets when a pupil comes each week.
    ///
    /// # Errors
    /// This is not the tutor's device, there is no such pupil, or the time is none.
    pub fn set_lesson(&self, input: SetLesson) -> Result<Nothing, Problem> {
        let SetLesson { pupil, lesson } = input;
        self.in_practice_book(PracticeEdit::SetLesson { pupil, lesson })
    }

    /// Puts the pupils in the tutor's own order; those left out follow.
    ///
    /// # Errors
    /// This is not the tutor's device, or there is no such pupil.
    pub fn set_order(&self, input: SetOrder) -> Result<Nothing, Problem> {
        self.in_practice_book(PracticeEdit::SetOrder(input.pupils))
    }

    /// Writes an edit into the tutor's private book.
    pub(crate) fn in_practice_book(&self, edit: PracticeEdit) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        self.in_practice(|practice, signer| {
            let change = practice.write(signer, edit).map_err(problem::write)?;
            Ok(((), vec![append(&change)]))
        })?;
        Ok(Nothing {})
    }
}

/// The day after which something counts as new: the last lesson, or else the day of the page before the
/// newest.
pub(crate) fn new_since(books: &Books, last_lesson: Option<Day>) -> Option<Day> {
    let before_newest = || {
        let newest = books.pages.last()?.written_on;
        Some(Day(newest.0 - 1))
    };
    last_lesson.or_else(before_newest)
}

/// How many pages came in since the last lesson; without lessons, how many were not looked at.
pub(crate) fn came_since(books: &Books, last_lesson: Option<Day>) -> usize {
    let pages = books.pages.iter();
    match last_lesson {
        // A page of before may come late, by a device that was away: then it was not looked at either.
        Some(day) => pages
            .filter(|page| {
                let made = page
                    .readings
                    .first()
                    .map_or(page.written_on, |it| it.made_at.day());
                made > day || page.looked_at.is_none()
            })
            .count(),
        None => pages.filter(|page| page.looked_at.is_none()).count(),
    }
}
