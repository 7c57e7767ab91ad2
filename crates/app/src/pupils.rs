//! Pupils.

use casefile::{Edit, PupilView as Books};
use std::collections::BTreeSet;

use units::{Aspect, BlobId, Day, PageRecord, Problem, Profile, PupilId, Role};

use crate::App;
use crate::api::{
    AddPupil, AddedPupil, AllowLetters, ChangePupil, Nothing, OfPupil, PageRow, PupilList,
    PupilRow, PupilView,
};
use crate::device::short_text;
use crate::figures::figures;
use crate::lessons::{came_since, new_since};
use crate::letters::unsound;
use crate::pages::page_before;
use crate::problem;
use crate::progress::{is_told, news};

impl App {
    /// Adds a pupil to the tutor's list.
    ///
    /// # Errors
    /// This is not the tutor's device, the name is missing, the letters are none that a school
    /// could teach, or the disk is full.
    pub fn add_pupil(&self, input: AddPupil) -> Result<AddedPupil, Problem> {
        self.only(Role::Tutor)?;
        let pupil = self.begin_case(tidy(input.profile)?)?;
        Ok(AddedPupil { pupil })
    }

    /// Changes what is kept of a pupil.
    ///
    /// # Errors
    /// As [`App::add_pupil`].
    pub fn change_pupil(&self, input: ChangePupil) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let edit = Edit::SetProfile(tidy(input.profile)?);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Says whether the family sees letter findings before the tutor has looked.
    ///
    /// # Errors
    /// This is not the tutor's device, or the disk is full.
    pub fn allow_letters(&self, input: AllowLetters) -> Result<Nothing, Problem> {
        self.only(Role::Tutor)?;
        let edit = Edit::AllowLetters(input.allowed);
        self.commit(input.pupil, vec![edit], Vec::new())?;
        Ok(Nothing {})
    }

    /// Whether this device may show findings on letters and joins of a page: a program's first guess at
    /// a child's letters goes by the tutor's eyes.
    pub(crate) fn shows_letters(&self, books: &Books, page: &PageRecord) -> Result<bool, Problem> {
        let tutor = self.settled()?.role == Role::Tutor;
        Ok(is_told(books, page, tutor))
    }

    /// All pupils on this device.
    ///
    /// # Errors
    /// This device is not set up, or its data cannot be read.
    pub fn pupils(&self, _: Nothing) -> Result<PupilList, Problem> {
        let today = self.today();
        let lessons = self.practice_view()?.lessons;
        let pupils = self.pupil_ids()?.into_iter().map(|pupil| {
            let lesson = lessons.get(&pupil).copied();
            (pupil, lesson.map(|lesson| lesson.last_before(today)))
        });
        let mut rows = self.rows(pupils.collect())?;
        let waiting = self.all_waiting()?;
        for row in &mut rows {
            let of = waiting.iter().filter(|one| one.pupil == row.pupil);
            row.photos_waiting = count(of.count());
            row.lesson = lessons.get(&row.pupil).copied();
            row.lesson_today = row
                .lesson
                .is_some_and(|lesson| lesson.weekday == today.weekday());
            row.due = row.delete_by.is_some_and(|day| day <= today);
        }
        Ok(PupilList { pupils: rows })
    }

    /// All of one pupil.
    ///
    /// # Errors
    /// There is no such pupil on this device.
    pub fn pupil(&self, input: OfPupil) -> Result<PupilView, Problem> {
        let books = self.books(input.pupil)?;
        let with_tutor = self.with_tutor(input.pupil)?;
        let pages = (0..books.pages.len())
            .rev()
            .map(|at| self.page_row(&books, at, with_tutor.as_ref()))
            .collect::<Result<_, _>>()?;
        let mut tasks = books.tasks.clone();
        tasks.reverse();
        let mut focuses = books.focuses.clone();
        focuses.reverse();
        Ok(PupilView {
            pupil: input.pupil,
            profile: books.profile.clone(),
            tasks,
            pages,
            focuses,
            letters_allowed: books.letters_allowed,
            newer: books.newer,
        })
    }

    /// The row of a pupil whose last lesson was on this day.
    pub(crate) fn row(
        &self,
        pupil: PupilId,
        last_lesson: Option<Day>,
    ) -> Result<PupilRow, Problem> {
        let books = self.books(pupil)?;
        let unseen = || books.pages.iter().filter(|page| page.looked_at.is_none());
        let task = books.tasks.last().cloned();
        let tutor = self.settled()?.role == Role::Tutor;
        let log = self.standing(pupil);
        let others = log.map_or(0, |log| log.members.len().saturating_sub(1));
        Ok(PupilRow {
            pupil,
            pages: count(books.pages.len()),
            last_page: books.pages.last().map(|page| page.written_on),
            next_unseen: unseen().next().map(|page| page.id),
            unseen: count(unseen().count()),
            focus: books
                .focuses
                .iter()
                .rev()
                .find(|focus| focus.to.is_none())
                .map(|f| f.aspect),
            answered: task
                .as_ref()
                .is_some_and(|task| books.pages.iter().any(|page| page.task == Some(task.id))),
            task,
            devices: count(others),
            asks: count(books.asks.len()),
            delete_by: books.delete_by,
            due: false,
            lesson: None,
            last_lesson,
            lesson_today: false,
            came: count(came_since(&books, last_lesson)),
            news: news(&books, new_since(&books, last_lesson), tutor),
            photos_waiting: 0,
            profile: books.profile.clone(),
        })
    }

    fn page_row(
        &self,
        books: &Books,
        at: usize,
        with_tutor: Option<&BTreeSet<BlobId>>,
    ) -> Result<PageRow, Problem> {
        let page = &books.pages[at];
        let mut figures = figures(page, page_before(books, at));
        if !self.shows_letters(books, page)? {
            figures.retain(|figure| !is_about_letters(figure.aspect));
        }
        let here = self
            .inner
            .store
            .has_blob(page.picture)
            .map_err(problem::store)?;
        Ok(PageRow {
            page: page.id,
            task: page.task,
            written_on: page.written_on,
            kind: page.kind,
            picture: here.then_some(page.picture),
            marks: count(
                books
                    .marks
                    .iter()
                    .filter(|mark| mark.page == page.id)
                    .count(),
            ),
            looked_at: page.looked_at.is_some(),
            starting: books.starting.contains(&page.id),
            with_tutor: with_tutor.map(|held| held.contains(&page.picture)),
            figures,
        })
    }
}

/// Whether a finding of this aspect is one about letters or joins.
pub(crate) fn is_about_letters(aspect: Option<Aspect>) -> bool {
    matches!(aspect, Some(Aspect::Form | Aspect::Joins))
}

pub(crate) fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

fn tidy(profile: Profile) -> Result<Profile, Problem> {
    let name = short_text(&profile.name, "a first name or initials")?;
    profile.model.check().map_err(unsound)?;
    Ok(Profile { name, ..profile })
}
