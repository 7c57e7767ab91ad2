//! Pupils.

use casefile::{Edit, PupilView as Books};
use units::{Problem, Profile, PupilId, Role};

use crate::App;
use crate::api::{
    AddPupil, AddedPupil, ChangePupil, Nothing, OfPupil, PageRow, PupilList, PupilRow, PupilView,
};
use crate::device::short_text;
use crate::figures::figures;
use crate::letters::unsound;
use crate::pages::page_before;
use crate::problem;
use crate::progress::{charts, news};

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

    /// All pupils on this device.
    ///
    /// # Errors
    /// This device is not set up, or its data cannot be read.
    pub fn pupils(&self, _: Nothing) -> Result<PupilList, Problem> {
        let mut rows = self.rows(self.pupil_ids()?)?;
        let today = self.today();
        for row in &mut rows {
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
        let pages = (0..books.pages.len())
            .rev()
            .map(|at| self.page_row(&books, at))
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
            newer: books.newer,
        })
    }

    pub(crate) fn row(&self, pupil: PupilId) -> Result<PupilRow, Problem> {
        let books = self.books(pupil)?;
        let unseen = || books.pages.iter().filter(|page| page.looked_at.is_none());
        let task = books.tasks.last().cloned();
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
            news: news(&charts(&books)),
            profile: books.profile.clone(),
        })
    }

    fn page_row(&self, books: &Books, at: usize) -> Result<PageRow, Problem> {
        let page = &books.pages[at];
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
            figures: figures(page, page_before(books, at)),
        })
    }
}

pub(crate) fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

fn tidy(profile: Profile) -> Result<Profile, Problem> {
    let name = short_text(&profile.name, "a first name or initials")?;
    profile.model.check().map_err(unsound)?;
    Ok(Profile { name, ..profile })
}
